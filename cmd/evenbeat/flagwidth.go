package main

import (
	"math"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/devices/quantity"
)

// gateFlag is what the pendulum carries through a light gate, as it was typed.
type gateFlag struct{ width, distance string }

func (g *gateFlag) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&g.width, "flag", "", "width of the flag that the pendulum carries through a light gate, a `LENGTH`, for the amplitude: 5.0mm")
	f.StringVar(&g.distance, "flag-distance", "", "how far the flag is from the pivot, a `LENGTH`: 950mm")
}

// rateOptions are what the call and the settings tell of gate, place and units.
func (a *app) rateOptions(g gateFlag) (o analysis.RateOptions, err error) {
	o.Units, o.HostLimitPPM = a.units(), a.loaded.Settings.Host.LimitPPM
	if o.Gravity, err = a.gravity(); err != nil {
		return o, err
	}
	if (g.width == "") != (g.distance == "") {
		return o, badCall("--flag and --flag-distance: give both, the flag's width and how far it is from the pivot")
	}
	if g.width == "" {
		return o, nil
	}
	if o.Flag, err = a.gateLength("--flag", g.width); err != nil {
		return o, err
	}
	if o.FlagDistance, err = a.gateLength("--flag-distance", g.distance); err != nil {
		return o, err
	}
	if o.FlagDistance.V <= o.Flag.V {
		return o, badCall("--flag-distance %s: must be more than the flag's width, %s: were the two swapped?", g.distance, g.width)
	}
	return o, nil
}

// gateLength reads a length; where the text states no uncertainty it is as good as
// typed values are taken to be.
func (a *app) gateLength(name, text string) (quantity.Value, error) {
	l, err := quantity.ParseLength(text, a.assume())
	if err != nil {
		return quantity.Value{}, badCall("%s: %w", name, err)
	}
	if l.Metres <= 0 {
		return quantity.Value{}, badCall("%s %s: must be more than nothing", name, text)
	}
	v := quantity.Value{V: l.Metres, U: l.U}
	if !l.Stated {
		v.U = a.loaded.Settings.Typed.LimitMM * 1e-3 / math.Sqrt(3)
	}
	return v, nil
}
