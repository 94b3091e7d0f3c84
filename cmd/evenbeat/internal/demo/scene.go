// Package demo plays the whole job on simulated instruments, in virtual time: a barrel
// and its spring are measured, the clock is timed, and it goes for days. The sessions
// are those that run at the bench. What they find stands beside the simulation's
// truth.
package demo

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"time"

	"evenbeat/analysis/train"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/simulate"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// The timetable, in seconds since the start of the scene.
const (
	pressEvery = 4.0
	timingFrom = 1800.0 // measured, put together and set going by then
	timingFor  = 3600.0
	checksFrom = 6000.0
	checkEvery = 43200.0
	airEvery   = 3600.0
)

// Scene is a simulated clock and its instruments in virtual time.
type Scene struct {
	bench live.Bench
	sc    simulate.Scenario
	clock *simulate.Clock
	lab   *simulate.Bench
	line  string // what to say of the line to the last instrument
}

// New sets a scene.
func New(b live.Bench, sc simulate.Scenario) (*Scene, error) {
	clock, err := simulate.NewClock(sc.Clock)
	if err != nil {
		return nil, err
	}
	host, err := simulate.NewHost(simulate.HostConfig{Start: sc.Start})
	if err != nil {
		return nil, err
	}
	return &Scene{bench: b, sc: sc, clock: clock, lab: simulate.NewBench(host)}, nil
}

// Play does the whole job: the clock is added to the book and measured, timed, and
// let go for its days. It says how each step went.
func (s *Scene) Play(ctx context.Context, b *book.Book, say func(format string, args ...any)) (sessions.Clock, error) {
	clock, err := b.AddClock(ctx, sessions.Clock{Name: s.sc.Name, Train: s.sc.Train, BeatsPerTooth: train.UsualBeatsPerTooth, HourArbor: s.sc.HourArbor,
		BeatsPerHour: s.sc.Clock.BeatsPerHour, Rod: s.sc.Rod, NutPitch: s.sc.NutPitch, Zone: "UTC"})
	if err != nil {
		return clock, err
	}
	for _, step := range []struct {
		what string
		do   func(context.Context, *book.Book, sessions.Clock) error
	}{
		{"measuring the barrel and its spring", s.measureSpring},
		{"timing the clock for an hour", s.timeClock},
		{"letting it go for days", s.letGo},
	} {
		began := time.Now()
		if err := step.do(ctx, b, clock); err != nil {
			return clock, fmt.Errorf("%s: %w", step.what, err)
		}
		say("  %-38s done in %.1f s%s\n", step.what, time.Since(began).Seconds(), s.line)
		s.line = ""
	}
	return clock, nil
}

// tellJob records what a customer tells, and what is looked at before measuring; it is
// invented.
func (s *Scene) tellJob(ctx context.Context, b *book.Book, clock sessions.Clock) error {
	var all []sessions.Particular
	for _, p := range []sessions.Particular{
		{Name: sessions.Customer, Value: "Mrs Ashdown"},
		{Name: sessions.JobNumber, Value: "114"},
		{Name: sessions.Serial, Value: "2088"},
		{Name: sessions.Complaint, Value: "It stops in the night, and is slow when it goes."},
		{Part: "barrel", Name: sessions.SpringEnd, Value: "hole"},
		{Part: "barrel", Name: sessions.Direction, Value: "clockwise"},
		{Part: "barrel", Name: sessions.BarrelHook, Value: sessions.Sound},
		{Part: "barrel", Name: sessions.ArborHook, Value: sessions.Sound},
		{Part: "barrel", Name: sessions.Cover, Value: "tight"},
		{Part: "barrel", Name: sessions.Set, Value: "slight"},
	} {
		p.ClockID, p.At = clock.ID, s.at(0)
		all = append(all, p)
	}
	_, err := b.AddParticulars(ctx, all)
	return err
}

// measureSpring measures to the plan mainspring with the caliper, types the
// length, and takes the strip once more with a micrometer.
func (s *Scene) measureSpring(ctx context.Context, b *book.Book, clock sessions.Clock) error {
	if err := s.tellJob(ctx, b, clock); err != nil {
		return err
	}
	whole, err := s.bench.Plan("mainspring")
	if err != nil {
		return err
	}
	if err := s.measureWith(ctx, b, clock, whole, "caliper", s.sc.Caliper, s.sc.TypedLength()); err != nil {
		return err
	}
	strip := whole
	strip.Steps = nil
	for _, st := range whole.Steps {
		if st.Dimension == "strip" {
			strip.Steps = append(strip.Steps, st)
		}
	}
	return s.measureWith(ctx, b, clock, strip, "micrometer", s.sc.Micrometer, "")
}

func (s *Scene) measureWith(ctx context.Context, b *book.Book, clock sessions.Clock, p plan.Plan, profile string, cfg simulate.CaliperConfig, typed string) (err error) {
	gauge, err := simulate.NewCaliper(cfg)
	if err != nil {
		return err
	}
	link, in, err := s.plug(profile)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, link.Close()) }()
	m := s.bench.NewMeasuring(live.MeasuringOptions{Clock: clock, Progress: plan.Start(p), Inputs: []live.Input{in}, Now: s.lab.Now})
	done := make(chan error, 1)
	go func() { done <- m.Run(ctx, b) }()
	from := float64(s.lab.Now().Mono)/1e9 + pressEvery
	playing, stop := context.WithCancel(ctx)
	defer stop()
	played := make(chan error, 1)
	go func() { played <- s.lab.Play(playing, link.Instrument, gauge.Lines(from, pressEvery, s.presses(p))) }()
	select {
	case err = <-played:
	case err = <-done:
		stop()
		if perr := <-played; !errors.Is(perr, context.Canceled) {
			err = errors.Join(err, perr)
		}
		return errors.Join(err, errors.New("the session ended before the last reading"))
	}
	if err == nil && typed != "" {
		err = m.Type(ctx, typed)
	}
	return errors.Join(err, <-done)
}

// presses are those of the scene that a plan asks for, and the zero.
func (s *Scene) presses(p plan.Plan) iter.Seq[simulate.Press] {
	wanted := map[string]bool{plan.Zero: true}
	for _, st := range p.Steps {
		wanted[st.Dimension] = true
	}
	return func(yield func(simulate.Press) bool) {
		for x := range s.sc.Presses(false) {
			if wanted[x.Dimension] && !yield(x) {
				return
			}
		}
	}
}

// timeClock listens to the clock for a while.
func (s *Scene) timeClock(ctx context.Context, b *book.Book, clock sessions.Clock) (err error) {
	link, in, err := s.plug("beat-counter")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, link.Close()) }()
	// The bench's own clock is true: what a synchronised host would have.
	t := s.bench.NewTiming(clock, in, live.TimingOptions{Now: s.lab.Now,
		Host: sessions.Timing{HostKnown: true, HostSynced: true, HostMaxErrorS: 1e-3}})
	playing, stop := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() {
		defer stop()
		done <- t.Run(ctx, b)
	}()
	err = s.lab.Play(playing, link.Instrument, s.clock.Lines(timingFrom, timingFrom+timingFor))
	t.Finish()
	return errors.Join(err, <-done)
}
