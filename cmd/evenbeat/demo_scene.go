package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/simulate"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// scene is the demo's bench: a simulated clock and instruments in virtual time. Its
// app has the book of the demo, the scene's clock for a time, and says nothing.
type scene struct {
	*app
	loud  *app // whose streams the findings go to
	sc    simulate.Scenario
	clock *simulate.Clock
	bench *simulate.Bench
	line  string // what is to be told of the lines used
}

func newScene(a *app, sc simulate.Scenario, name string) (*scene, error) {
	quiet := *a
	quiet.out = io.Discard
	quiet.in = eofReader{}
	quiet.loaded.Settings.Book = name
	quiet.clock = ""
	clock, err := simulate.NewClock(sc.Clock)
	if err != nil {
		return nil, err
	}
	host, err := simulate.NewHost(simulate.HostConfig{Start: sc.Start})
	if err != nil {
		return nil, err
	}
	return &scene{app: &quiet, loud: a, sc: sc, clock: clock, bench: simulate.NewBench(host)}, nil
}

type eofReader struct{}

func (eofReader) Read([]byte) (int, error) { return 0, io.EOF }

// plug joins a simulated instrument to the program: through a pseudo-terminal that
// is opened as any serial port is, or a pipe where the system has none.
func (s *scene) plug(ins instrument) (*simulate.Link, source, error) {
	link, err := simulate.Pair()
	if err != nil {
		return nil, nil, err
	}
	var src source = pipe{link.Host, s.bench, s.log}
	if link.Name != "" {
		p, err := port.Open(link.Name, port.Options{Settings: ins.settings, Now: s.bench.Now, Log: s.log})
		if err != nil {
			return nil, nil, errors.Join(err, link.Close())
		}
		src = p
		s.line = " through " + link.Name
	} else {
		s.line = " through a pipe: this system has no pseudo-terminals"
	}
	return link, consuming{src, s.bench}, nil
}

// consuming tells the bench of every byte that was taken, so that it goes on.
type consuming struct {
	source
	bench *simulate.Bench
}

func (c consuming) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return c.source.Run(ctx, func(k devices.Chunk) error {
		err := deliver(k)
		c.bench.Consumed(len(k.Bytes))
		return err
	})
}

// pipe is the line of a system without pseudo-terminals.
type pipe struct {
	host  io.ReadCloser
	bench *simulate.Bench
	log   zerolog.Logger
}

func (p pipe) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	stop := context.AfterFunc(ctx, func() {
		if err := p.host.Close(); err != nil {
			p.log.Warn().Err(err).Msg("a simulated line was not closed")
		}
	})
	defer stop()
	buf := make([]byte, 4096)
	for {
		n, err := p.host.Read(buf)
		if n > 0 {
			if err := deliver(devices.Chunk{At: p.bench.Now(), Bytes: buf[:n]}); err != nil {
				return err
			}
		}
		if err != nil {
			return nil // the instrument was unplugged, or ctx ended
		}
	}
}

// measureSpring measures to the plan mainspring with the caliper, types the
// length, and takes the strip once more with a micrometer.
func (s *scene) measureSpring(ctx context.Context, b *book.Book, clock sessions.Clock) error {
	whole, err := s.plan("mainspring")
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

func (s *scene) measureWith(ctx context.Context, b *book.Book, clock sessions.Clock, p plan.Plan, profile string, cfg simulate.CaliperConfig, typed string) (err error) {
	gauge, err := simulate.NewCaliper(cfg)
	if err != nil {
		return err
	}
	m := &measuring{app: s.app, plan: p, now: s.bench.Now}
	if m.progress, err = plan.Start(p); err != nil {
		return err
	}
	if m.ins, err = s.instrument(profile); err != nil {
		return err
	}
	link, src, err := s.plug(m.ins)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, link.Close()) }()
	m.port, m.source = link.Name, src
	keyboard, keys := io.Pipe()
	own := *s.app
	own.in, own.err = keyboard, io.Discard
	m.app = &own
	done := make(chan error, 1)
	go func() { done <- m.run(ctx, b, clock) }()
	wanted := map[string]bool{"zero": true}
	for _, st := range p.Steps {
		wanted[st.Dimension] = true
	}
	presses := func(yield func(simulate.Press) bool) {
		for x := range s.sc.Presses(false) {
			if wanted[x.Dimension] && !yield(x) {
				return
			}
		}
	}
	from := float64(s.bench.Now().Mono)/1e9 + pressEvery
	playing, stop := context.WithCancel(ctx)
	defer stop()
	played := make(chan error, 1)
	go func() { played <- s.bench.Play(playing, link.Instrument, gauge.Lines(from, pressEvery, presses)) }()
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
		_, err = fmt.Fprintln(keys, typed)
	}
	return errors.Join(err, keys.Close(), <-done)
}

// timeClock listens to the clock for a while.
func (s *scene) timeClock(ctx context.Context, b *book.Book, clock sessions.Clock) (err error) {
	ins, err := s.sensor(timeOptions{profile: "beat-counter"})
	if err != nil {
		return err
	}
	link, src, err := s.plug(ins)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, link.Close()) }()
	// The bench's own clock is true: what a synchronised host would have.
	t := &timing{app: s.app, ins: ins, port: link.Name, source: src, now: s.bench.Now,
		host: sessions.Timing{HostKnown: true, HostSynced: true, HostMaxErrorS: 1e-3}}
	listening, stop := context.WithCancel(ctx)
	defer stop()
	done := make(chan error, 1)
	go func() {
		_, err := t.run(listening, b, clock)
		done <- err
	}()
	err = s.bench.Play(listening, link.Instrument, s.clock.Lines(timingFrom, timingFrom+timingFor))
	stop()
	return errors.Join(err, <-done)
}
