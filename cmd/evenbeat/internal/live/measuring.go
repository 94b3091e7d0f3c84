package live

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// ReadingBook is where a session of measuring is kept; a *book.Book is one.
type ReadingBook interface {
	recorder.ReadingStore
	StartSession(context.Context, sessions.Session) (int64, error)
}

// Measuring is a session of measuring to a plan. Always call Run, which closes the
// instruments' ports. The other methods may be called at any time, by anyone.
type Measuring struct {
	session
	inputs   []Input
	clock    sessions.Clock
	progress *plan.Progress // the recorder's alone, once Run was called
	queue    chan recorder.Item
}

// MeasuringOptions are what is measured, and with what.
type MeasuringOptions struct {
	Clock    sessions.Clock
	Progress *plan.Progress
	Part     string // under which the readings go; the plan's own where it is empty
	// Inputs are the instruments. Without any, or where the only one has neither a source
	// nor a search, readings are typed.
	Inputs []Input
	Now    func() devices.Stamp // stamps what is typed
}

// NewMeasuring makes a session ready.
func (b Bench) NewMeasuring(o MeasuringOptions) *Measuring {
	m := &Measuring{session: session{bench: b, now: o.Now, over: make(chan struct{})},
		inputs: o.Inputs, clock: o.Clock, progress: o.Progress, queue: make(chan recorder.Item, queueLength)}
	if len(m.inputs) == 0 {
		m.inputs = make([]Input, 1)
	}
	p := o.Progress.Plan()
	m.state = State{Clock: o.Clock.Name, Part: cmp.Or(o.Part, p.Part), Plan: p, Before: o.Progress.Before(), Replaced: o.Progress.Replaced(), Left: o.Progress.Left(),
		Typed: m.inputs[0].Source == nil && m.inputs[0].Search == nil}
	m.state.Next, _ = o.Progress.Next()
	return m
}

// Do gives a command. It waits while the queue to the recorder is full, and returns
// ErrOver when the session has ended. A Finish also ends a search for the instrument.
func (m *Measuring) Do(ctx context.Context, c recorder.Command) error {
	it := recorder.Item{Command: c, At: m.now()}
	if c != recorder.Finish {
		return m.send(ctx, it)
	}
	select {
	case <-m.over:
		return ErrOver
	default:
	}
	m.finish()
	// What ends a search may end the session before it is queued: it did what it should.
	if err := m.send(ctx, it); !errors.Is(err, ErrOver) {
		return err
	}
	return nil
}

// Type hands a typed line to the plan, as Do does a command.
func (m *Measuring) Type(ctx context.Context, line string) error {
	return m.send(ctx, recorder.Item{Typed: line, At: m.now()})
}

// Jump goes to the dimension with these first letters, as Do does a command.
func (m *Measuring) Jump(ctx context.Context, letters string) error {
	return m.send(ctx, recorder.Item{Jump: letters, At: m.now()})
}

// TakeBack takes back one reading, of the session that runs or an earlier one of the same
// part, as Do does a command. Where the plan has no such reading there is nothing to do.
func (m *Measuring) TakeBack(ctx context.Context, reading int64) error {
	return m.send(ctx, recorder.Item{Reading: reading, At: m.now()})
}

// Close ends the session behind what was sent before, as Finish does. It has no time
// of its own: the session ends in the book with the last reading.
func (m *Measuring) Close(ctx context.Context) error {
	return m.send(ctx, recorder.Item{Command: recorder.Finish})
}

func (m *Measuring) send(ctx context.Context, it recorder.Item) error {
	select {
	case <-m.over:
		return ErrOver
	default:
	}
	select {
	case m.queue <- it:
		return nil
	case <-m.over:
		return ErrOver
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Run measures until the plan is through, a Finish or the end of ctx, and keeps the
// readings in the book. When it returns, all it started has ended. The session begins when
// the first of its instruments is known; the others may be found later.
func (m *Measuring) Run(ctx context.Context, b ReadingBook) (err error) {
	defer func() { m.end(ctx, nil, err) }()
	searching, stopSearch := m.stoppable(ctx)
	defer stopSearch()
	o := m.search(searching)
	if m.input, err = o.first(); err != nil || !m.state.Typed && (m.input.Source == nil || searching.Err() != nil) {
		stopSearch()
		o.abandon(ctx)
		return err
	}
	ses := m.begun(sessions.SessionMeasure, m.clock)
	ses.Part, ses.Plan = m.state.Part, m.state.Plan.Name
	if ses.ID, err = b.StartSession(ctx, ses); err != nil {
		stopSearch()
		o.abandon(ctx)
		return err
	}
	m.tell(Started, Event{Session: ses})

	ctx, stop := context.WithCancel(ctx)
	defer stop()
	if m.listened = true; !m.state.Typed {
		o.stop = stop
		o.listen(ctx, m.input, ses)
	}
	rec := &recorder.Measuring{Store: b, Session: ses, Progress: m.progress, Limit: m.input.Instrument.limit,
		TypedLimit: m.bench.Settings.Typed.LimitMM * 1e-3, Parse: m.parse, Log: m.bench.Log,
		Tell: func(e recorder.Event) error {
			if e.Kind == recorder.Waits {
				m.warn("%s", e.Fault.Text)
				return nil
			}
			m.publish(Event{Event: e, asks: true})
			return nil
		}}
	err = rec.Run(ctx, m.queue)
	stop()
	stopSearch()
	return errors.Join(o.end(), err)
}

// parse reads a typed line for a step.
func (m *Measuring) parse(text string, s plan.Step) (recorder.Entry, error) {
	if s.Kind == sessions.Count {
		v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || !(v >= 0 && v <= quantity.MaxCounted) {
			return recorder.Entry{}, fmt.Errorf("%q is not a number of %s: count them and type the number alone, as in 12", text, s.Dimension)
		}
		return recorder.Entry{Number: quantity.Number{V: v}}, nil
	}
	ins := m.input.Instrument
	unit := m.bench.Unit
	if unit == quantity.NoUnit && ins.Profile.Unit != "" {
		unit, _ = quantity.ParseUnit(ins.Profile.Unit)
	}
	l, err := quantity.ParseLength(text, unit)
	if v, bare := strconv.ParseFloat(text, 64); err != nil && bare == nil && v == 0 {
		l, err = quantity.Length{}, nil // closed jaws are zero in any unit
	}
	e := recorder.Entry{Number: l.Number(), Step: l.Step}
	if m.input.Source == nil && s.Kind != sessions.Typed && ins.Profile.Name != "" {
		// The line is the named instrument's: its own limit holds, for inside and
		// outside apart, and its readings share no error with another's.
		e.Instrument, e.Limit = ins.Profile.Name, ins.limit(s.Kind)
	}
	return e, err
}
