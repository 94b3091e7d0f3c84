package recorder

import (
	"context"
	"slices"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/sessions"
)

// BeatStore keeps what is heard while a clock is timed. Each method returns once
// its rows are on the disk.
type BeatStore interface {
	AppendBeats(ctx context.Context, sessionID int64, beats []sessions.Beat) error
	AppendReferences(ctx context.Context, sessionID int64, told []sessions.Reference) error
	CompactBeats(ctx context.Context, sessionID int64) error
	AddFault(ctx context.Context, f sessions.Fault) (int64, error)
	AddAir(ctx context.Context, a sessions.Air) (int64, error)
	EndSession(ctx context.Context, id int64, at time.Time) error
	// Checkpoint has the book's file hold, without its log, all that was kept.
	Checkpoint(ctx context.Context) error
}

const (
	// holdFor is how long a beat may wait for others before all are written: with
	// the writing itself it is on the disk within a second.
	holdFor = 750 * time.Millisecond
	// holdMost is how many may wait, for sensors played back at full speed.
	holdMost = 4096
	// compactAfter is the number of small chunks that are joined into large ones
	// while the session goes on: about an hour of them.
	compactAfter = 4096
)

// Timing records the beats of a timing session, and the air about the clock, or the air
// alone. Fill it in and call Run.
type Timing struct {
	Store   BeatStore
	Session sessions.Session // as started: its ID and ClockID
	// AirEvery is the span of time whose samples of the air become one row; 0 for the
	// usual one.
	AirEvery time.Duration
	// Tell, if not nil, hears of beats, reference times, air and faults once they are on
	// the disk, in order, from Run's own goroutine. An error ends the session.
	Tell func(Event) error
	Log  zerolog.Logger

	waiting []devices.Said // came, and isn't in held, in refs or in the book
	pause   pause
	held    []sessions.Beat
	refs    references
	chunks  int
	begun   bool
	first   int64 // host's monotonic time of the first beat
	broken  bool  // the next beat's count can't be joined to the last one's
	last    devices.Stamp
	faults  *faults
	airs    *airs
	copies  *checkpoints
}

// Run records what comes in, batch by batch, until the queue is closed or ctx
// ends; what lies in the queue by then is still recorded. It ends the session. While the
// disk is full what comes waits in memory, and is recorded when there is room.
func (t *Timing) Run(ctx context.Context, in <-chan []devices.Said) error {
	keep := context.WithoutCancel(ctx)
	t.faults, t.airs, t.copies = newFaults(), newAirs(t.AirEvery), newCheckpoints(t.Store, t.Log)
	defer t.copies.now(keep)
	err := t.loop(ctx, keep, in)
	if err == nil {
		t.faults.end()
		t.airs.end()
		err = t.catchUp(keep)
	}
	err = lost(err, t.unkept()+t.faults.unkept())
	if err := endSession(keep, t.Store, t.Session, t.last, t.Log, err); err != nil {
		return err
	}
	return t.compact(keep)
}

func (t *Timing) loop(ctx, keep context.Context, in <-chan []devices.Said) error {
	// The timer runs only while beats are held, from the first of them.
	timer := time.NewTimer(holdFor)
	timer.Stop()
	defer timer.Stop()
	for {
		waited := t.waits()
		select {
		case batch, ok := <-in:
			if !ok {
				return nil
			}
			if err := t.take(keep, batch); err != nil {
				return err
			}
		case <-timer.C:
			waited = false
			if err := t.settle(keep, t.catchUp(keep)); err != nil {
				return err
			}
		case <-t.faults.timer.C:
			t.faults.ripen()
			if err := t.settle(keep, t.catchUp(keep)); err != nil {
				return err
			}
		case <-t.airs.timer.C:
			t.airs.ripen(t.pause.err != nil)
			if err := t.settle(keep, t.catchUp(keep)); err != nil {
				return err
			}
		case <-t.copies.timer.C:
			t.copies.now(keep)
			continue
		case <-ctx.Done():
			return t.drain(keep, in)
		}
		t.copies.written()
		switch {
		case !t.waits():
			timer.Stop()
		case !waited:
			timer.Reset(holdFor)
		}
	}
}

// drain records what has come already.
func (t *Timing) drain(ctx context.Context, in <-chan []devices.Said) error {
	for {
		select {
		case batch, ok := <-in:
			if !ok {
				return nil
			}
			if err := t.take(ctx, batch); err != nil {
				return err
			}
		default:
			return nil
		}
	}
}

func (t *Timing) take(ctx context.Context, batch []devices.Said) error {
	err := t.pause.err
	if err != nil { // a flood must not take the room of beats
		batch = slices.DeleteFunc(batch, func(s devices.Said) bool {
			early := s.Kind == devices.KindFault && !Breaks(s.Fault)
			if early {
				t.faults.add(fault(t.Session.ID, s, s.Fault))
			}
			return early
		})
	}
	t.waiting = append(t.waiting, batch...)
	if err == nil {
		err = t.work(ctx)
	}
	return t.settle(ctx, err)
}

// work takes what waits, in order. What a write fails for waits on.
func (t *Timing) work(ctx context.Context) error {
	for i, s := range t.waiting {
		if s.At.Mono >= t.last.Mono { // a pulse is told of by a later sentence
			t.last = s.At
		}
		switch s.Kind {
		case devices.KindBeat:
			t.beat(s)
		case devices.KindFault:
			t.faults.add(fault(t.Session.ID, s, s.Fault))
			t.broken = t.broken || Breaks(s.Fault)
		case devices.KindAir:
			t.air(s)
		case devices.KindTime:
			t.reference(s)
		default:
			t.faults.add(fault(t.Session.ID, s, NotAskedFor))
		}
		if len(t.faults.ready)+len(t.airs.ready) == 0 && max(len(t.held), len(t.refs.held)) < holdMost {
			continue
		}
		if err := t.flush(ctx); err != nil {
			t.waiting = t.waiting[i+1:]
			return err
		}
	}
	t.waiting = t.waiting[:0]
	return nil
}

// Breaks reports whether the sensor's count may have started anew after the fault:
// the sensor gets its power through the same plug.
func Breaks(k devices.FaultKind) bool {
	return k == devices.FaultUnplugged || k == devices.FaultReplugged || k == devices.FaultReset
}

func (t *Timing) beat(s devices.Said) {
	if !t.begun {
		t.begun, t.first = true, s.At.Mono
	}
	// Whole microseconds, as the book keeps them: what is found while the session runs is
	// then what is found in the book.
	mono := wholeMicroseconds(s.At.Mono - t.first)
	at := mono + wholeMicroseconds(s.At.UTC-s.At.Mono+t.first+500)
	b := sessions.Beat{Count: s.Beat.Count, HostMono: mono, HostUTC: at, Edge: s.Beat.Edge, Break: t.broken}
	t.broken = false
	t.held = append(t.held, b)
}

// wholeMicroseconds returns ns nanoseconds less what they are over whole microseconds.
func wholeMicroseconds(ns int64) int64 { return ns - (ns%1000+1000)%1000 }

func (t *Timing) tell(e Event) error {
	if t.Tell == nil {
		return nil
	}
	return t.Tell(e)
}

// waits reports whether anything waits for the timer.
func (t *Timing) waits() bool {
	return t.pause.err != nil || len(t.held) > 0 || t.begun && len(t.refs.held) > 0
}

// flush writes what is held, and the faults that are ready behind it.
func (t *Timing) flush(ctx context.Context) error {
	if err := t.flushReferences(ctx); err != nil {
		return err
	}
	if err := t.flushBeats(ctx); err != nil {
		return err
	}
	if err := t.flushAir(ctx); err != nil {
		return err
	}
	return t.faults.flush(ctx, t.Store, t.Log, t.tell)
}

func (t *Timing) flushBeats(ctx context.Context) error {
	if len(t.held) == 0 {
		return nil
	}
	if err := t.Store.AppendBeats(ctx, t.Session.ID, t.held); err != nil {
		return err
	}
	t.Log.Debug().Int64("session", t.Session.ID).Int("beats", len(t.held)).Msg("beats in the book")
	if err := t.tell(Event{Kind: Beats, Beats: t.held}); err != nil {
		return err
	}
	t.held = t.held[:0]
	if t.chunks++; t.chunks < compactAfter {
		return nil
	}
	t.chunks = 0
	return t.compact(ctx)
}

// compact joins small chunks. Where that can't be done now they stay small: all of them are
// kept.
func (t *Timing) compact(ctx context.Context) error {
	err := t.Store.CompactBeats(ctx, t.Session.ID)
	if passes(err) {
		t.Log.Warn().Err(err).Int64("session", t.Session.ID).Msg("beats left in small chunks")
		return nil
	}
	return err
}
