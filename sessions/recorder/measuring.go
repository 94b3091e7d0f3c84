package recorder

import (
	"context"
	"errors"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// ReadingStore keeps readings. Each method returns once its row is on the disk.
type ReadingStore interface {
	AddReading(ctx context.Context, r sessions.Reading) (int64, error)
	Undo(ctx context.Context, readingID int64, why string) error
	AddEvent(ctx context.Context, e sessions.Event) (int64, error)
	AddFault(ctx context.Context, f sessions.Fault) (int64, error)
	EndSession(ctx context.Context, id int64, at time.Time) error
	// Checkpoint has the book's file hold, without its log, all that was kept.
	Checkpoint(ctx context.Context) error
}

// Item is one thing that comes in: what an instrument said, a line that was typed, a
// command, a jump or a reading to take back.
type Item struct {
	Said    devices.Said // of an instrument; Kind 0 for the others
	By      *By          // which, where it isn't the session's own
	Typed   string       // a line, where there is nothing else
	Command Command      // or a key
	Jump    string       // or the first letters of the dimension to go to
	Reading int64        // or the one to take back
	// At is when it was typed, the zero value for a Finish that has no time of its
	// own. An instrument's stamp is in Said.
	At devices.Stamp
}

// By is one of several instruments of a session.
type By struct {
	Instrument string // profile
	Limit      func(sessions.Kind) float64
}

// Entry is a typed line as it was understood, in metres, or as a bare number for a
// step of kind sessions.Count.
type Entry struct {
	quantity.Number
	Step float64 // one of the last digit written; 0 if it has none
	// Instrument is the profile of the one that typed the line, and Limit its limit
	// of error for the step, ± metres; both empty for what was typed by hand.
	Instrument string
	Limit      float64
}

// Measuring records a session of measuring to a plan. Fill it in and call Run.
type Measuring struct {
	Store    ReadingStore
	Session  sessions.Session // as started: its ID, ClockID, Part, Profile
	Progress *plan.Progress
	// Limit is the instrument's limit of error for a kind of measurement, ± metres;
	// TypedLimit the one assumed for typed lengths that state no uncertainty.
	Limit      func(sessions.Kind) float64
	TypedLimit float64
	// Parse reads a typed line for the step in hand.
	Parse func(text string, s plan.Step) (Entry, error)
	// Tell hears of each thing once it is on the disk, in order, from Run's own
	// goroutine. An error ends the session.
	Tell func(Event) error
	Log  zerolog.Logger

	last    devices.Stamp
	waiting []Item // came, and isn't in the book
	pause   pause
	again   <-chan time.Time // when a full disk is tried anew
	faults  *faults
	copies  *checkpoints
}

// errFinished ends the loop from within.
var errFinished = errors.New("finished")

// Run records what comes in until the plan is through, a Finish, the closing of
// the queue or the end of ctx. What lies in the queue by then is still recorded,
// so that closed jaws can undo even the last reading. It ends the session. While the disk
// is full what comes waits in memory, and is recorded when there is room.
func (m *Measuring) Run(ctx context.Context, in <-chan Item) error {
	keep := context.WithoutCancel(ctx) // what was received is kept, whatever ends us
	m.faults, m.copies = newFaults(), newCheckpoints(m.Store, m.Log)
	defer m.copies.now(keep)
	err := m.loop(ctx, keep, in)
	if err == nil || errors.Is(err, errFinished) {
		m.faults.end()
		err = m.catchUp(keep)
	}
	return endSession(keep, m.Store, m.Session, m.last, m.Log, lost(err, len(m.waiting)+m.faults.unkept()))
}

func (m *Measuring) loop(ctx, keep context.Context, in <-chan Item) error {
	for {
		it, ok, err := m.next(ctx, keep, in)
		if err != nil || !ok {
			return err
		}
		if err := m.take(keep, it); err != nil {
			return err
		}
		m.copies.written()
	}
}

// next waits for an item. Once the plan is through and kept, or ctx has ended, it returns
// only what has come already; false when there is no more.
func (m *Measuring) next(ctx, keep context.Context, in <-chan Item) (it Item, ok bool, err error) {
	for {
		if _, more := m.Progress.Next(); !more && m.pause.err == nil || ctx.Err() != nil {
			select {
			case it, ok = <-in:
			default:
			}
			return it, ok, nil
		}
		select {
		case it, ok = <-in:
			return it, ok, nil
		case <-m.faults.timer.C:
			m.faults.ripen()
			if err := m.settle(keep, m.catchUp(keep)); err != nil {
				return it, false, err
			}
			m.copies.written()
		case <-m.again:
			m.again = nil
			if err := m.settle(keep, m.catchUp(keep)); err != nil {
				return it, false, err
			}
			m.copies.written()
		case <-m.copies.timer.C:
			m.copies.now(keep)
		case <-ctx.Done():
		}
	}
}

func (m *Measuring) tell(e Event) error {
	e.Next, _ = m.Progress.Next()
	e.Left = m.Progress.Left()
	return m.Tell(e)
}

func (m *Measuring) take(ctx context.Context, it Item) error {
	at := it.At
	if it.Said.Kind != 0 {
		at = it.Said.At
	}
	if at != (devices.Stamp{}) {
		m.last = at
	}
	if it.Command == Finish {
		return errFinished
	}
	err := m.pause.err
	if err != nil && it.Said.Kind == devices.KindFault { // a flood must not take the room of readings
		m.faults.add(fault(m.Session.ID, it.Said, it.Said.Fault))
		return nil
	}
	m.waiting = append(m.waiting, it)
	if err == nil {
		err = m.catchUp(ctx)
	}
	if err := m.settle(ctx, err); err != nil || m.pause.err == nil {
		return err
	}
	return m.waits(it)
}

func (m *Measuring) record(ctx context.Context, it Item) error {
	switch {
	case it.Command != 0:
		return m.command(ctx, it.Command)
	case it.Jump != "":
		e := Event{Kind: NothingToDo}
		if e.Dimension = m.Progress.Jump(it.Jump); e.Dimension != "" {
			e.Kind = Jumped
		}
		return m.tell(e)
	case it.Reading != 0:
		return m.takeBack(ctx, it.Reading)
	case it.Said.Kind == 0:
		return m.typed(ctx, it)
	}
	switch it.Said.Kind {
	case devices.KindReading:
		return m.said(ctx, it)
	case devices.KindFault:
		m.faults.add(fault(m.Session.ID, it.Said, it.Said.Fault))
	default:
		m.faults.add(fault(m.Session.ID, it.Said, NotAskedFor))
	}
	return nil
}

func (m *Measuring) command(ctx context.Context, c Command) error {
	e := Event{Kind: NothingToDo}
	switch c {
	case Undo:
		return m.undo(ctx, "undone by key", sessions.Reading{})
	case Skip:
		if e.Dimension = m.Progress.Skip(); e.Dimension != "" {
			e.Kind = Skipped
		}
	case Repeat:
		if e.Dimension = m.Progress.Repeat(); e.Dimension != "" {
			e.Kind = Repeated
		}
	}
	return m.tell(e)
}

func (m *Measuring) undo(ctx context.Context, why string, by sessions.Reading) error {
	id, any := m.Progress.Last()
	if !any {
		return m.tell(Event{Kind: NothingToDo})
	}
	if id != 0 {
		if err := m.Store.Undo(ctx, id, why); err != nil {
			return err
		}
	}
	m.Progress.Undo()
	return m.tell(Event{Kind: Undone, Undone: id, Reading: by})
}

// takeBack takes back one reading of the plan, whichever session it is of.
func (m *Measuring) takeBack(ctx context.Context, id int64) error {
	if !m.Progress.Has(id) {
		return m.tell(Event{Kind: NothingToDo})
	}
	if err := m.Store.Undo(ctx, id, "taken back while measuring"); err != nil {
		return err
	}
	m.Progress.TakeBack(id)
	return m.tell(Event{Kind: Undone, Undone: id})
}
