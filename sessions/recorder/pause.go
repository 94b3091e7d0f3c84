package recorder

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// Paused is the kind of fault for a time in which the disk was full or another program
// held the book, kept once it is over.
const Paused devices.FaultKind = "paused"

// holdPaused is how many things that came may wait in memory: some 20 MB. Ten beats a second fill it in an hour and three quarters, a hundred in 11 minutes.
const holdPaused = 1 << 16

// pause is a time in which nothing can be written. What comes waits in memory.
type pause struct {
	err   error // why the last write failed; nil while nothing is paused
	began time.Time
	at    time.Time // the stamp at which it began
}

func diskFull(err error) bool {
	e, ok := errors.AsType[*book.Error](err)
	return ok && e.Kind == book.KindFull
}

// busy tells that another program is writing to the book, such as a large import.
func busy(err error) bool {
	e, ok := errors.AsType[*book.Error](err)
	return ok && e.Kind == book.KindBusy
}

// passes tells that a write may work later.
func passes(err error) bool { return diskFull(err) || busy(err) }

// take decides what becomes of a session after a write. A full disk or a busy book begins
// the pause, or lets it go on, until more than holdPaused things wait; then it is an error
// like all others, which end the session.
func (p *pause) take(err error, waiting int, at devices.Stamp, tell func(Event) error) error {
	if !passes(err) || waiting > holdPaused {
		return err
	}
	began := p.err == nil
	p.err = err
	if !began {
		return nil
	}
	p.began, p.at = time.Now(), utc(at)
	what := "room"
	if busy(err) {
		what = "the book"
	}
	return tell(Event{Kind: Waits, Fault: sessions.Fault{Kind: string(Paused), At: p.at,
		Text: fmt.Sprintf("recording waits for %s, with what comes in memory (at most %d lines): %v", what, holdPaused, err)}})
}

// over is what the book keeps of a pause.
func (p *pause) over(session int64) sessions.Fault {
	what := "the disk was full"
	if busy(p.err) {
		what = "another program held the book"
	}
	return sessions.Fault{SessionID: session, At: p.at, Kind: string(Paused),
		Text: fmt.Sprintf("%s for %s: what came meanwhile waited in memory and is kept", what, time.Since(p.began).Round(time.Second))}
}

// lost adds to the error that ends a session what is not kept because of a pause.
func lost(err error, waiting int) error {
	if !passes(err) || waiting == 0 {
		return err
	}
	return fmt.Errorf("the last %d lines that came are not kept: %w", waiting, err)
}

// unkept is how many things besides faults came that aren't in the book.
func (t *Timing) unkept() int {
	return len(t.waiting) + len(t.held) + len(t.refs.held) + t.airs.unkept()
}

// settle takes the error of a write. After a full disk the session waits, unless the book's
// own log has the room once it is folded in.
func (t *Timing) settle(ctx context.Context, err error) error {
	if t.pause.err == nil && diskFull(err) {
		t.copies.now(ctx)
		err = t.catchUp(ctx)
	}
	return t.pause.take(err, t.unkept(), t.last, t.tell)
}

// catchUp writes all that waits, and keeps of a pause that it was.
func (t *Timing) catchUp(ctx context.Context) error {
	err := t.work(ctx)
	if err == nil {
		err = t.flush(ctx)
	}
	if err != nil || t.pause.err == nil {
		return err
	}
	if err := keepFault(ctx, t.Store, t.Log, t.tell, Event{Fault: t.pause.over(t.Session.ID), Times: 1}); err != nil {
		return err
	}
	t.pause, t.waiting = pause{}, nil
	return nil
}

// settle takes the error of a write, as timing's does.
func (m *Measuring) settle(ctx context.Context, err error) error {
	if m.pause.err == nil && diskFull(err) {
		m.copies.now(ctx)
		err = m.catchUp(ctx)
	}
	if err := m.pause.take(err, len(m.waiting), m.last, m.tell); err != nil {
		return err
	}
	if m.pause.err != nil && m.again == nil {
		m.again = time.After(holdFor)
	}
	return nil
}

// waits tells that what came is not in the book yet.
func (m *Measuring) waits(it Item) error {
	keys := [...]string{Undo: "undo", Skip: "skip", Repeat: "repeat"}
	what := cmp.Or(strings.TrimSpace(it.Said.Text), string(it.Said.Fault), it.Typed, keys[it.Command])
	return m.tell(Event{Kind: Waits, Fault: sessions.Fault{Kind: string(Paused), At: utc(m.last), Text: what + " waits: it is not kept yet"}})
}

// catchUp records all that waits, in order, and keeps of a pause that it was.
func (m *Measuring) catchUp(ctx context.Context) error {
	for i, it := range m.waiting {
		err := m.faults.flush(ctx, m.Store, m.Log, m.tell)
		if err == nil {
			err = m.record(ctx, it)
		}
		if err != nil {
			m.waiting = m.waiting[i:]
			return err
		}
	}
	m.waiting = m.waiting[:0]
	if err := m.faults.flush(ctx, m.Store, m.Log, m.tell); err != nil || m.pause.err == nil {
		return err
	}
	if err := keepFault(ctx, m.Store, m.Log, m.tell, Event{Fault: m.pause.over(m.Session.ID), Times: 1}); err != nil {
		return err
	}
	m.pause = pause{}
	return nil
}
