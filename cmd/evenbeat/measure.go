package main

import (
	"context"
	"errors"
	"os"
	"strconv"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

type measureOptions struct{ plan, part, port, profile string }

func newMeasureCmd(a *app) *cobra.Command {
	var o measureOptions
	c := &cobra.Command{
		Use:   "measure",
		Short: "Measure to a plan: each reading is asked for, tagged and kept",
		Long: `Measure to a plan. Each reading that the instrument sends is tagged to the clock, the
part and the dimension asked for, and is in the book before it is acknowledged. Close
the jaws and send first, to take the instrument's zero; later that undoes the last
reading, so that oily hands need touch nothing but the instrument.

` + keyHelp + `
With --port - readings are typed, or come from an instrument that types.`,
		Example: `  evenbeat measure --plan mainspring --port /dev/ttyUSB0 --profile caliper
  evenbeat measure --plan pivot --port -`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.measure(c.Context(), o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.plan, "plan", "mainspring", "the measuring `PLAN`: mainspring, pendulum, pivot, bushing, wheel or your own")
	f.StringVar(&o.part, "part", "", "keep the readings under this `PART` (the plan's own)")
	f.StringVar(&o.port, "port", "", "the serial `PORT`, auto, or - for typed lines")
	f.StringVar(&o.profile, "profile", "", "the instrument `PROFILE` (see evenbeat ports profiles)")
	return c
}

func (a *app) measure(ctx context.Context, o measureOptions) error {
	p, err := a.plan(o.plan)
	if err != nil {
		return err
	}
	progress, err := plan.Start(p)
	if err != nil {
		return asCall(err)
	}
	m := &measuring{app: a, part: o.part, plan: p, progress: progress, now: port.HostClock()}
	switch o.port {
	case "":
		return badCall("--port: name the serial port, auto, or - for typed lines")
	case "-":
		if o.profile != "" {
			if m.ins, err = a.instrument(o.profile); err != nil {
				return err
			}
		}
	default:
		if o.profile == "" {
			if m.seek, err = a.seek(o.port, "caliper", false, lengths); err != nil {
				return err
			}
			break
		}
		if m.ins, err = a.instrument(o.profile); err != nil {
			return err
		}
		opened, err := a.openPort(o.port, m.ins)
		if err != nil {
			return err
		}
		m.port, m.source = opened.Name(), opened
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error { return m.run(ctx, b, clock) })
}

// measuring is one session of measuring.
type measuring struct {
	*app
	part     string
	plan     plan.Plan
	progress *plan.Progress
	ins      instrument
	port     string
	source   source  // nil when readings are typed
	seek     *seeker // nil when the instrument is known; finds it and its source
	now      func() devices.Stamp

	kept, doubtful, refused int
}

func (m *measuring) run(ctx context.Context, b *book.Book, clock sessions.Clock) error {
	part := m.part
	if part == "" {
		part = m.plan.Part
	}
	m.greet(clock.Name, part)
	if m.seek != nil {
		if found, err := m.find(ctx); !found || err != nil {
			return err
		}
	}
	ses := sessions.Session{ClockID: clock.ID, Kind: sessions.SessionMeasure, Part: part, Plan: m.plan.Name,
		Port: m.port, Profile: m.ins.profile.Name, Started: utcTime(m.now())}
	var err error
	if ses.ID, err = b.StartSession(ctx, ses); err != nil {
		return err
	}
	m.source = m.keepRaw(m.source, ses)

	ctx, stop := context.WithCancel(ctx)
	defer stop()
	queue := make(chan recorder.Item, queueLength)
	restore, typing := m.typist()
	defer restore()
	typed := make(chan error, 1)
	go func() {
		typed <- typing.run(ctx, queue)
		if m.source == nil {
			close(queue) // the end of typed lines ends the session
		}
	}()
	var listening sync.WaitGroup
	var heard error
	if m.source != nil {
		listening.Go(func() {
			heard = m.listen(ctx, queue)
			stop()
		})
	}
	rec := &recorder.Measuring{Store: b, Session: ses, Progress: m.progress, Limit: m.limit, TypedLimit: m.loaded.Settings.Typed.LimitMM * 1e-3,
		Parse: m.parse, Tell: m.acknowledge, Log: m.log}
	err = rec.Run(ctx, queue)
	if err == nil {
		err = m.sumUp()
	}
	stop()
	listening.Wait()
	select {
	case terr := <-typed:
		err = errors.Join(err, terr)
	default: // still waits for a key, and will as long as the program lives
	}
	err = errors.Join(err, heard)
	if err == nil && m.refused > 0 && !isTerminal(m.in) {
		return badCall("%d of the typed lines could not be taken; the rest is kept", m.refused)
	}
	return err
}

// find waits for the instrument to speak; false if the session ended before.
func (m *measuring) find(ctx context.Context) (bool, error) {
	h, ins, err := m.seek.find(ctx)
	if err != nil || h == nil || ctx.Err() != nil {
		if err == nil {
			m.app.say("Nothing was heard that could be understood; nothing was kept.\n")
		}
		return false, err
	}
	m.ins, m.port, m.source = ins, h.Port, h
	return true, nil
}

// listen hands what the instrument says to the recorder.
func (m *measuring) listen(ctx context.Context, queue chan<- recorder.Item) error {
	return listen(ctx, m.source, m.ins.decoder, func(said []devices.Said) error {
		for _, s := range said {
			if !recorder.Send(ctx, queue, recorder.Item{Said: s}) {
				return nil
			}
		}
		return nil
	})
}

// typist reads single keys from a terminal beside an instrument, else lines.
func (m *measuring) typist() (restore func(), t typist) {
	t = typist{in: m.in, now: m.now}
	restore = func() {}
	if f, ok := m.in.(*os.File); ok && m.source != nil && isTerminal(f) {
		if back, err := singleKeys(int(f.Fd())); err == nil {
			t.echo = m.err
			restore = func() {
				if err := back(); err != nil {
					m.log.Warn().Err(err).Msg("the terminal was not put back: type reset")
				}
			}
		}
	}
	return restore, t
}

func (m *measuring) limit(k plan.Kind) float64 { return m.ins.limit(string(k)) }

// parse reads a typed line for a step.
func (m *measuring) parse(text string, s plan.Step) (recorder.Entry, error) {
	if s.Kind == plan.Count {
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || !(v >= 0 && v < 1e6) {
			return recorder.Entry{}, badCall("%s %q is no count: write a bare number", s.Dimension, text)
		}
		return recorder.Entry{Value: v}, nil
	}
	unit := m.assume()
	if unit == quantity.NoUnit && m.ins.profile.Unit != "" {
		unit, _ = quantity.ParseUnit(m.ins.profile.Unit)
	}
	l, err := quantity.ParseLength(text, unit)
	e := recorder.Entry{Value: l.Metres, U: l.U, Step: l.Step}
	if m.source == nil && s.Kind != plan.Typed && m.ins.profile.Name != "" {
		// The line is the named instrument's: its own limit holds, for inside and
		// outside apart, and its readings share no error with another's.
		e.Instrument, e.Limit = m.ins.profile.Name, m.limit(s.Kind)
	}
	return e, err
}

// plan makes the measuring plan of that name.
func (a *app) plan(name string) (plan.Plan, error) {
	c, err := a.loaded.Plan(name)
	if err != nil {
		return plan.Plan{}, asCall(err)
	}
	return planOf(c), nil
}

// planOf turns a plan as it is set down into one to measure by.
func planOf(c configs.Plan) plan.Plan {
	p := plan.Plan{Name: c.Name, Title: c.Title, Part: c.Part, Cautions: c.Cautions}
	for _, s := range c.Steps {
		low, high, vary := s.Range()
		p.Steps = append(p.Steps, plan.Step{Dimension: s.Dimension, Ask: s.Ask, Count: s.Count, Spread: s.Spread,
			Kind: plan.Kind(s.Kind), Min: low, Max: high, Vary: vary, Caution: s.Caution})
	}
	return p
}
