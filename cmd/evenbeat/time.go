package main

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/recorder"
)

type timeOptions struct {
	port, profile, span string
	countRate           float64
	countBits           int
	gate                gateFlag
	reference           referenceFlag
}

func newTimeCmd(a *app) *cobra.Command {
	var o timeOptions
	c := &cobra.Command{
		Use:   "time",
		Short: "Listen to the beat, and tell the rate as it becomes sure",
		Long: `Listen to a beat sensor and keep every beat in the book. The rate and its interval
are told as they close in; Ctrl-C, or the end of --for, ends the session and sums up.
With --reference, a receiver of time at another port tells what this computer's clock
is worth; where that is better than what the computer knows, the rate goes by it. A
pulse a second on a control line of that port tells it far better than sentences.`,
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
	f.Float64Var(&o.countRate, "count-rate", 0, "the sensor's counts a second, `HZ` (the profile's)")
	f.IntVar(&o.countBits, "count-bits", 0, "the width of its counter: `16|24|32|64` (the profile's)")
	o.gate.flags(c)
	o.reference.flags(c)
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
	t := &timing{app: a, now: port.HostClock()}
	if t.opt, err = a.rateOptions(o.gate); err != nil {
		return err
	}
	if t.reference, err = a.reference(o.reference, o.port); err != nil {
		return err
	}
	if err := t.open(o); err != nil {
		return err
	}
	known, synced, bound := hostDiscipline()
	t.host = sessions.Timing{HostKnown: known, HostSynced: synced, HostMaxErrorS: bound}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		if t.seek != nil {
			if err := t.find(ctx, o); err != nil {
				return err
			}
		}
		if err := t.reference.open(t.now); err != nil {
			return err
		}
		// What was recorded is summed up although ctx has ended.
		f, err := t.run(ctx, b, clock)
		if few, ok := errors.AsType[*beat.TooFewError](err); ok {
			// The recording went well, and what came is kept: it is only short.
			a.say("%s: kept, but without a figure: %v.\n", clock.Name, few)
			return nil
		}
		if err != nil {
			return err
		}
		if a.asJSON {
			return render.JSON(a.out, f, true)
		}
		return render.Rate(a.out, clock.Name+": the beat", f)
	})
}

// open opens the port of a sensor whose profile is named, else begins a search.
func (t *timing) open(o timeOptions) (err error) {
	if o.profile == "" {
		o.profile = "beat-counter"
		if _, err := t.sensor(o); err != nil {
			return err
		}
		if t.seek, err = t.app.seek(o.port, o.profile, false, beats); err == nil {
			t.now = t.seek.now
		}
		return err
	}
	if t.ins, err = t.sensor(o); err != nil {
		return err
	}
	p, err := t.openPortBy(t.now, o.port, t.ins)
	if err != nil {
		return err
	}
	t.port, t.source = p.Name(), p
	return nil
}

// find waits for the sensor to speak. What it hears meanwhile is not lost.
func (t *timing) find(ctx context.Context, o timeOptions) error {
	h, ins, err := t.seek.find(ctx)
	if err != nil {
		return err
	}
	if h == nil {
		return &beat.TooFewError{}
	}
	o.profile = ins.profile.Name
	if t.ins, err = t.sensor(o); err != nil {
		return err
	}
	t.port, t.source = h.Port, h
	return nil
}

// sensor makes a beat sensor's profile ready, with the counter as the flags say.
func (a *app) sensor(o timeOptions) (instrument, error) {
	ins, err := a.instrument(o.profile)
	if err != nil {
		return ins, err
	}
	if ins.profile.Kind != configs.KindBeat {
		return ins, badCall("--profile %s is a %s: name a beat sensor's", o.profile, ins.profile.Kind)
	}
	if o.countRate != 0 {
		if !(o.countRate >= 10 && o.countRate <= 1e12) {
			return ins, badCall("--count-rate %g: must be counts a second, from 10 to 1e12", o.countRate)
		}
		ins.profile.CountRate = o.countRate
	}
	switch o.countBits {
	case 0:
	case 16, 24, 32, 64:
		ins.profile.CountBits = o.countBits
	default:
		return ins, badCall("--count-bits %d: must be 16, 24, 32 or 64", o.countBits)
	}
	return ins, nil
}

// timing is one session of listening to a clock.
type timing struct {
	*app
	ins    instrument
	port   string
	source source
	seek   *seeker // nil when the sensor is known; finds it and its source
	now    func() devices.Stamp
	// reference is nil where there is none.
	reference *timeReference
	host      sessions.Timing // what is known of the host's clock
	opt       analysis.RateOptions
}

// run listens until ctx ends, keeps what it hears, and finds the rate.
func (t *timing) run(ctx context.Context, b *book.Book, clock sessions.Clock) (beat.Result, error) {
	ses := sessions.Session{ClockID: clock.ID, Kind: sessions.SessionTime, Port: t.port, Profile: t.ins.profile.Name,
		Started: utcTime(t.now()), Timing: t.host}
	ses.Timing.CountRate, ses.Timing.CountBits = t.ins.profile.CountRate, t.ins.profile.CountBits
	keep := context.WithoutCancel(ctx)
	var err error
	if ses.ID, err = b.StartSession(keep, ses); err != nil {
		return beat.Result{}, err
	}
	t.source = t.keepRaw(t.source, ses)
	live, err := analysis.NewRater(clock, ses, t.opt)
	if err != nil {
		return beat.Result{}, err
	}
	show := newClosingIn(t.app, clock.Name)
	queue := make(chan []devices.Said, queueLength)
	var listening sync.WaitGroup
	var heard error
	listening.Go(func() {
		beside := t.reference.listen(ctx, ses, queueBatches(keep, queue))
		heard = listen(ctx, t.source, t.ins.decoder, queueBatches(keep, queue))
		beside()
		close(queue)
	})
	rec := &recorder.Timing{Store: b, Session: ses, Log: t.log,
		Tell: func(e recorder.Event) error {
			switch e.Kind {
			case recorder.Beats:
				live.Add(e.Beats)
				show.beats(live)
			case recorder.References:
				live.AddReferences(e.References)
			case recorder.Faulty:
				show.fault(e.Fault)
			}
			return nil
		},
	}
	err = rec.Run(keep, queue)
	for range queue { // after a failed write the port must not wait for ever
	}
	listening.Wait()
	show.end()
	if err = errors.Join(err, heard); err != nil {
		return beat.Result{}, err
	}
	live.Close()
	f, err := live.Result()
	if err != nil {
		return f, fmt.Errorf("session %d of %s: %w", ses.ID, clock.Name, err)
	}
	return f, nil
}
