package main

import (
	"slices"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/uncertainty"
	"evenbeat/analysis/weight"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type weightOptions struct {
	drum, line, fall, mass string
	parts                  int64
	turnHours              float64
}

func newWeightCmd(a *app) *cobra.Command {
	var o weightOptions
	c := &cobra.Command{
		Use:   "weight",
		Short: "How long does a weight-driven clock go on one winding?",
		Long: `Work out the turns of the drum and the hours of going from drum, line and fall of the
weight. The time of one turn of the drum comes from the clock's train, or is given.

A falling weight can crush and break: secure it before line, click or drum is touched,
stay out from under it, and keep to local rules and trained practice.`,
		Example: `  evenbeat weight --drum 52mm --line 1.6mm --fall 1.45m --parts 2 --turn-hours 12 --mass 5kg
  evenbeat weight --clock Hall --drum 2in --line 1/16in --fall 4.5m`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			in, assumed, err := a.weightInput(c, o)
			if err != nil {
				return err
			}
			of, title := "", "The weight, from the values given"
			if in.TurnHours == 0 || a.clock != "" {
				err = a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
					of, title = clock.Name, clock.Name+": the weight"
					rec, err := b.Record(c.Context(), clock.ID, book.Sessions, book.Readings)
					if err != nil {
						return err
					}
					f, err := analysis.Clock(rec, analysis.ClockOptions{})
					if in.TurnHours == 0 {
						in.TurnHours = f.BarrelTurnHours
					}
					return err
				})
				if err != nil {
					return err
				}
			}
			f, err := weight.Going(in)
			if err != nil {
				return err
			}
			f.Reasons = append(f.Reasons, assumed...)
			if a.asJSON {
				return a.answer(of, f)
			}
			return render.Weight(a.out, title, f, a.full)
		},
	}
	a.clockFlag(c)
	a.fullFlag(c)
	f := c.Flags()
	f.StringVar(&o.drum, "drum", "", "diameter of the drum, a `LENGTH`")
	f.StringVar(&o.line, "line", "", "thickness of the line, a `LENGTH`")
	f.StringVar(&o.fall, "fall", "", "how far the weight can go down, a `LENGTH`")
	f.StringVar(&o.mass, "mass", "", "the weight's `MASS`: 5kg, 800g or 11lb")
	f.Int64Var(&o.parts, "parts", 1, "parts of line that carry it, `N`: 2 with a pulley")
	f.Float64Var(&o.turnHours, "turn-hours", 0, "hours for a turn of the drum, `H` (else from the clock's train)")
	return c
}

// weightInput reads what was typed, and tells what is assumed of lengths that don't say
// how good they are. A fall is laid along a rule, as the length of a strip is.
func (a *app) weightInput(c *cobra.Command, o weightOptions) (in weight.Input, assumed []string, err error) {
	in = weight.Input{Parts: o.parts, TurnHours: o.turnHours}
	if c.Flags().Changed("turn-hours") && !(o.turnHours > 0) {
		return in, nil, badCall("--turn-hours %g: must be a number of hours greater than zero", o.turnHours)
	}
	for _, x := range []struct {
		name, text, dimension, like string
		must                        bool
		to                          **uncertainty.Quantity
	}{
		{"drum", o.drum, "drum", "52mm", true, &in.Drum},
		{"line", o.line, "line", "", false, &in.Line},
		{"fall", o.fall, "length", "1.45m", true, &in.Fall},
	} {
		if x.text == "" {
			if x.must {
				return in, nil, badCall("--%s is missing: give it as a length with its unit, such as --%s %s", x.name, x.name, x.like)
			}
			continue
		}
		l, err := quantity.ParseLength(x.text, a.assume())
		if err != nil {
			return in, nil, badCall("--%s: %w", x.name, err)
		}
		if l.Metres <= 0 {
			return in, nil, badCall("--%s %s: must be more than nothing", x.name, x.text)
		}
		q, notes := analysis.TypedLength(x.dimension, l, a.springOptions())
		*x.to, assumed = &q, append(assumed, notes...)
	}
	if o.mass != "" {
		m, err := parseMass(o.mass)
		if err != nil {
			return in, nil, badCall("--mass: %w", err)
		}
		in.Mass = &m
	}
	slices.Sort(assumed)
	return in, slices.Compact(assumed), nil
}
