package main

import (
	"context"
	"errors"
	"slices"

	"github.com/spf13/cobra"

	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type timeOptions struct {
	port, profile, span string
	countRate           float64
	countBits           int
	wait                bool
	gate                gateFlag
	reference           referenceFlag
	air                 airFlag
}

func newTimeCmd(a *app) *cobra.Command {
	var o timeOptions
	c := &cobra.Command{
		Use:   "time",
		Short: "Listen to the beat, and show the rate as it becomes sure",
		Long: `Listen to a beat sensor and keep every beat in the book. The rate and its interval are
shown as they close in; Ctrl-C, or the end of --for, ends the session and sums up.
With --reference, a time receiver at another port tells how good this computer's clock
is, and where the receiver is better, the rate goes by it. A pulse a second on one of
that port's control lines is far better than sentences. With --air, a sensor of
temperature, pressure or humidity at another port is recorded for the same clock, as
evenbeat air does; whatever becomes of it, the beats go on.

With --wait the port need not be there yet, as when the computer has just started. Run
by systemd as Type=notify, a session tells that it began, and each second that it goes
on; evenbeat-time@.service, which comes with the program, is such a unit.`,
		Example: `  evenbeat time --port /dev/ttyACM0 --for 10m
  evenbeat time --port auto --profile beat-counter --count-rate 1e6 --count-bits 32
  evenbeat time --port /dev/ttyACM0 --reference /dev/ttyUSB0 --for 1h`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.time(c.Context(), o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.port, "port", "", "the serial `PORT` of the sensor, or auto")
	f.StringVar(&o.profile, "profile", "", "the sensor's `PROFILE` (see evenbeat ports profiles; without it the sensor is recognised)")
	f.StringVar(&o.span, "for", "", "listen for this `SPAN`: 10m, 12h, 7d (else until Ctrl-C)")
	f.Float64Var(&o.countRate, "count-rate", 0, "the sensor's counts per second, `HZ` (the profile's)")
	f.IntVar(&o.countBits, "count-bits", 0, "the width of its counter: `16|24|32|64` (the profile's)")
	f.BoolVar(&o.wait, "wait", false, "wait for a port that is not there yet")
	o.gate.flags(c)
	o.reference.flags(c)
	o.air.flags(c)
	return c
}

func (a *app) time(ctx context.Context, o timeOptions) error {
	if o.port == "" {
		return badCall("--port: name the serial port of the sensor, or auto")
	}
	ctx, stop, err := withinSpan(ctx, o.span)
	if err != nil {
		return err
	}
	defer stop()
	opt := live.TimingOptions{Now: port.HostClock(), CountRate: o.countRate, CountBits: o.countBits, EstimateEvery: a.streams().EstimateEvery()}
	if opt.Rate, err = a.rateOptions(o.gate); err != nil {
		return err
	}
	if opt.Reference, err = a.reference(o.reference, o.port); err != nil {
		return err
	}
	if err := a.airBeside(o, &opt); err != nil {
		return err
	}
	in, err := a.awaited(ctx, o.wait, func() (live.Input, error) { return a.sensor(o, opt.Now) })
	if err != nil || in.Source == nil && in.Search == nil {
		return err
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		if err := a.tellTiming(ctx, b, clock, &opt); err != nil {
			return err
		}
		t := a.bench().NewTiming(clock, in, opt)
		err := a.streams().Time(ctx, t, b)
		if n := t.State().Air.Rows; n > 0 {
			a.say("The air is kept too: %d %s, which evenbeat record air lists.\n", n, quantity.Plural(n, "row", "rows"))
		}
		if few, ok := errors.AsType[*beat.TooFewError](err); ok {
			// The recording went well, and what came is kept: it is only short.
			a.say("%s: kept, but without a figure: %v%s.\n", clock.Name, few, a.otherReading(few, t.State().Session))
			return nil
		}
		if err != nil {
			return err
		}
		f := t.State().Estimate.Result
		if a.asJSON {
			return a.answer(clock.Name, f)
		}
		return render.Rate(a.out, clock.Name+": the beat", f, false)
	})
}

// tellTiming adds what is known of this computer's clock, now and from earlier sessions, and
// of the going of the clock that is timed.
func (a *app) tellTiming(ctx context.Context, b *book.Book, clock sessions.Clock, opt *live.TimingOptions) (err error) {
	opt.Host, opt.ReadHost = live.HostClock(), live.ReadHost
	if now, ok := live.ReadHost(); ok {
		opt.Rate.HostReadings = []sessions.HostReading{now}
		if opt.Rate.Earlier, err = earlierOn(ctx, b, now.Host, a.now()); err != nil {
			return err
		}
	}
	return tellDays(ctx, b, clock, a.now(), &opt.Rate)
}

// sensor opens the port of a beat sensor whose profile is named, or begins a search
// for one.
func (a *app) sensor(o timeOptions, now func() devices.Stamp) (in live.Input, err error) {
	if o.countRate != 0 && !(o.countRate >= 10 && o.countRate <= 1e12) {
		return in, badCall("--count-rate %g: must be counts per second, from 10 to 1e12", o.countRate)
	}
	if !slices.Contains([]int{0, 16, 24, 32, 64}, o.countBits) {
		return in, badCall("--count-bits %d: must be 16, 24, 32 or 64", o.countBits)
	}
	return a.bench().Beats(o.port, o.profile, now, a.streams().PassedOver)
}

// referenceFlag names a receiver of time.
type referenceFlag struct{ port, profile string }

func (o *referenceFlag) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.port, "reference", "", "the serial `PORT` of a time receiver")
	f.StringVar(&o.profile, "reference-profile", "nmea", "its `PROFILE`")
}

// reference makes the receiver of a call ready, nil if it names none.
func (a *app) reference(o referenceFlag, sensor string) (*live.Input, error) {
	switch o.port {
	case "":
		return nil, nil
	case "auto":
		return nil, badCall("--reference auto: name the port of the receiver (see evenbeat ports)")
	case sensor:
		return nil, badCall("--reference %s: is the sensor's port: name the receiver's", o.port)
	}
	ins, err := a.bench().Instrument(o.profile)
	if err != nil {
		return nil, err
	}
	if ins.Profile.Kind != configs.KindReference {
		return nil, badCall("--reference-profile %s is a %s: name one that tells the time, as nmea does", o.profile, ins.Profile.Kind)
	}
	return &live.Input{Port: o.port, Instrument: ins}, nil
}
