package main

import (
	"cmp"
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
	"evenbeat/sessions/plan"
)

type measureOptions struct {
	plan, part     string
	wish           plan.Wish
	ports, profile []string
}

func newMeasureCmd(a *app) *cobra.Command {
	var o measureOptions
	c := &cobra.Command{
		Use:   "measure",
		Short: "Measure to a plan: each reading is asked for, tagged and kept",
		Long: `Measure to a plan. Each reading that the instrument sends is tagged with the clock, the
part and the dimension asked for, and is in the book before it is acknowledged. Close
the jaws and send once before anything else to take the instrument's zero. After that,
doing so undoes the last reading, so oily hands touch nothing but the instrument.

Measuring carries on where it stopped, on another day or with another instrument.
--only and --from measure again what they name, and the readings are combined. For a part
that was changed, such as a new spring, --anew sets the old readings aside.

With several --port, or --port auto, every instrument is listened to. Use whichever suits
the dimension: its reading shows which one it was. With several --port give one --profile
for each, in the same order, or none.

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
	f.StringVar(&o.wish.From, "from", "", "begin at this `DIMENSION`, by its first letters")
	f.StringSliceVar(&o.wish.Only, "only", nil, "measure this `DIMENSION` alone; several with commas between")
	f.BoolVar(&o.wish.Anew, "anew", false, "the part was changed: new readings take the place of the old ones")
	f.StringSliceVar(&o.ports, "port", nil, "the serial `PORT`, auto, or - for typed lines; several for several instruments")
	f.StringSliceVar(&o.profile, "profile", nil, "the instrument `PROFILE` (see evenbeat ports profiles)")
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
	inputs, err := a.calipers(o, now)
	if err != nil {
		return err
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		progress, err := a.begin(ctx, b, clock, p, o)
		if err != nil {
			closeAll(ctx, inputs)
			return err
		}
		m := a.bench().NewMeasuring(live.MeasuringOptions{Clock: clock, Progress: progress, Part: o.part, Inputs: inputs, Now: now})
		if err := a.streams().Measure(ctx, m, b); err != nil {
			return err
		}
		if n := m.State().Refused; n > 0 && !terminal.Is(a.in) {
			return badCall("%d typed %s could not be taken; the rest is kept", n, quantity.Plural(n, "line", "lines"))
		}
		return nil
	})
}

// begin begins a plan where the clock's record stops.
func (a *app) begin(ctx context.Context, b *book.Book, clock sessions.Clock, p plan.Plan, o measureOptions) (*plan.Progress, error) {
	progress, err := live.Begin(ctx, b, clock, p, o.part, o.wish)
	if err != nil {
		return nil, err
	}
	if _, more := progress.Next(); !more {
		return nil, badCall("plan %s is complete in the record of the %s: give --only to measure a dimension again, or --anew where the part was changed", p.Name, cmp.Or(o.part, p.Part))
	}
	return progress, nil
}

// calipers makes each instrument ready whose port is given.
func (a *app) calipers(o measureOptions, now func() devices.Stamp) (all []live.Input, err error) {
	switch n := len(o.ports); {
	case n == 0:
		return nil, badCall("--port: name the serial port, auto, or - for typed lines")
	case len(o.profile) > 0 && len(o.profile) != n:
		return nil, badCall("%d --port and %d --profile: give one profile for each port, or none", n, len(o.profile))
	}
	for i, name := range o.ports {
		profile := ""
		if len(o.profile) > 0 {
			profile = o.profile[i]
		}
		if len(o.ports) > 1 && (name == "-" || name == "auto") {
			err = badCall("--port %s: name each port where there are several", name)
		}
		var in []live.Input
		if err == nil {
			in, err = a.bench().Lengths(serial(name), profile, now, a.streams().PassedOver)
		}
		if err != nil {
			closeAll(context.Background(), all)
			return nil, err
		}
		all = append(all, in...)
	}
	return all, nil
}

// closeAll closes the ports of instruments that are not listened to.
func closeAll(ctx context.Context, all []live.Input) {
	for _, in := range all {
		_ = in.Close(ctx) // it was never read: there is nothing to lose
	}
}

// serial is the serial port of a name that --port takes; "" for typed lines.
func serial(name string) string {
	if name == "-" {
		return ""
	}
	return name
}
