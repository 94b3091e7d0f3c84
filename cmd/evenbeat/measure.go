package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type measureOptions struct{ plan, part, port, profile string }

func newMeasureCmd(a *app) *cobra.Command {
	var o measureOptions
	c := &cobra.Command{
		Use:   "measure",
		Short: "Measure to a plan: each reading is asked for, tagged and kept",
		Long: `Measure to a plan. Each reading that the instrument sends is tagged with the clock, the
part and the dimension asked for, and is in the book before it is acknowledged. Close
the jaws and send once before anything else to take the instrument's zero. After that,
the same undoes the last reading, so oily hands touch nothing but the instrument.

` + terminal.KeyHelp + `
With --port - readings are typed, or come from an instrument that types.`,
		Example: `  evenbeat measure --plan mainspring --port /dev/ttyUSB0 --profile caliper
  evenbeat measure --plan pivot --port -`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.measure(c.Context(), o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.plan, "plan", "mainspring", "the measuring `PLAN`: "+strings.Join(configs.PlanNames(), ", ")+" or your own")
	f.StringVar(&o.part, "part", "", "keep the readings under this `PART` (the plan's own)")
	f.StringVar(&o.port, "port", "", "the serial `PORT`, auto, or - for typed lines")
	f.StringVar(&o.profile, "profile", "", "the instrument `PROFILE` (see evenbeat ports profiles)")
	return c
}

func (a *app) measure(ctx context.Context, o measureOptions) error {
	p, err := a.loaded.Plan(o.plan)
	if err != nil {
		return asCall(err)
	}
	if o.part != "" {
		if err := quantity.CheckName("part", o.part); err != nil {
			return flagError("part", err)
		}
	}
	now := port.HostClock()
	in, err := a.caliper(o, now)
	if err != nil {
		return err
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		m := a.bench().NewMeasuring(clock, p, o.part, in, now)
		if err := a.streams().Measure(ctx, m, b); err != nil {
			return err
		}
		if n := m.State().Refused; n > 0 && !terminal.Is(a.in) {
			return badCall("%d of the typed lines could not be taken; the rest is kept", n)
		}
		return nil
	})
}

// caliper opens the port of an instrument whose profile is named, or begins a search
// for it; for typed lines there is none.
func (a *app) caliper(o measureOptions, now func() devices.Stamp) (in live.Input, err error) {
	switch {
	case o.port == "":
		return in, badCall("--port: name the serial port, auto, or - for typed lines")
	case o.profile != "":
		if in.Instrument, err = a.bench().Instrument(o.profile); err != nil || o.port == "-" {
			return in, err
		}
		return a.bench().Open(o.port, in.Instrument, now)
	case o.port != "-":
		search := live.SearchOptions{Port: o.port, Expected: "caliper", Now: now, Wanted: live.MeasuresLengths}
		in.Search, err = a.bench().NewSearch(search, a.streams().PassedOver)
	}
	return in, err
}
