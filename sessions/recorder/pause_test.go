package recorder

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

var (
	errNoRoom = &book.Error{Kind: book.KindFull, What: "disk full"}
	errBusy   = &book.Error{Kind: book.KindBusy, What: "another program holds the book"}
)

// tight is a store whose disk is full, or which is busy, whenever it says so.
type tight struct {
	memory
	full func() bool
	busy bool
}

func (s *tight) room() error {
	switch {
	case !s.full():
		return nil
	case s.busy:
		return errBusy
	}
	return errNoRoom
}

func (s *tight) AppendBeats(ctx context.Context, id int64, beats []sessions.Beat) error {
	if err := s.room(); err != nil {
		return err
	}
	return s.memory.AppendBeats(ctx, id, beats)
}

func (s *tight) AppendReferences(ctx context.Context, id int64, told []sessions.Reference) error {
	if err := s.room(); err != nil {
		return err
	}
	return s.memory.AppendReferences(ctx, id, told)
}

func (s *tight) AddFault(ctx context.Context, f sessions.Fault) (int64, error) {
	if err := s.room(); err != nil {
		return 0, err
	}
	return s.memory.AddFault(ctx, f)
}

func (s *tight) AddAir(ctx context.Context, a sessions.Air) (int64, error) {
	if err := s.room(); err != nil {
		return 0, err
	}
	return s.memory.AddAir(ctx, a)
}

func (s *tight) CompactBeats(context.Context, int64) error { return s.room() }

// timingOn is a recorder on a store, and what it told, in order.
func timingOn(store BeatStore, told *[]Event) *Timing {
	return &Timing{Store: store, Session: sessions.Session{ID: 1, ClockID: 2, Started: noon}, Log: zerolog.Nop(),
		Tell: func(e Event) error {
			e.Beats, e.References = slices.Clone(e.Beats), slices.Clone(e.References)
			*told = append(*told, e)
			return nil
		}}
}

// minutes is what a bench says in so long: ten beats a second, a time told each second,
// and now and then air and faults.
func minutes(n int) [][]devices.Said {
	var all [][]devices.Said
	for i := range int64(n * 600) {
		ms := i * 100
		batch := []devices.Said{beat(ms, uint64(ms))}
		switch {
		case i%97 == 96:
			batch = append(batch, devices.Said{Kind: devices.KindFault, At: stamp(ms + 1), Fault: devices.FaultUnplugged, Text: "gone"})
		case i%89 == 88:
			batch = append(batch, devices.Said{Kind: devices.KindAir, At: stamp(ms + 1), Air: devices.Air{TemperatureC: float64(i % 40), HasTemperature: true}})
		case i%10 == 9:
			batch = append(batch, OfReference([]devices.Said{told(ms+2, ms*1e6, func(t *devices.Time) { t.Valid = i%50 != 9 })})...)
		}
		all = append(all, batch)
	}
	return all
}

// Whichever writes fail for want of room, all that came is in the book at the end, once
// and in order, and nothing was told of before it was there.
func TestTimingPauses(t *testing.T) {
	run := func(full func() bool) (*tight, []Event) {
		var room atomic.Bool
		store := &tight{full: func() bool { return !room.Load() && full() }}
		var heard []Event
		synctest.Test(t, func(t *testing.T) {
			r := timingOn(store, &heard)
			in, done := make(chan []devices.Said), make(chan error, 1)
			go func() { done <- r.Run(t.Context(), in) }()
			for _, batch := range minutes(12) {
				in <- batch
				time.Sleep(100 * time.Millisecond)
			}
			room.Store(true)
			time.Sleep(holdFor)
			close(in)
			if err := <-done; err != nil {
				t.Error(err)
			}
		})
		return store, heard
	}
	want, _ := run(func() bool { return false })
	began := time.Time{}
	rng := rand.New(rand.NewPCG(7, 0))
	for name, full := range map[string]func() bool{
		"eleven minutes": func() bool {
			if began.IsZero() {
				began = time.Now()
			}
			return time.Since(began) > 30*time.Second && time.Since(began) < 11*time.Minute
		},
		"every other write": func() bool { return rng.IntN(2) == 0 },
		"nearly every":      func() bool { return rng.IntN(20) > 0 },
	} {
		t.Run(name, func(t *testing.T) {
			got, heard := run(full)
			line, paused := got.faults, 0
			line = slices.DeleteFunc(line, func(f sessions.Fault) bool { return f.Kind == string(Paused) })
			if d := cmp.Diff(want.beats, got.beats) + cmp.Diff(want.faults, line) + cmp.Diff(want.told, got.told) + cmp.Diff(want.air, got.air); d != "" {
				t.Errorf("in the book (-want +got):\n%.2000s", d)
			}
			var beats []sessions.Beat
			for _, e := range heard {
				beats = append(beats, e.Beats...)
				if e.Kind == Waits {
					paused++
				}
			}
			if n := len(got.faults) - len(line); paused == 0 || n != paused || name == "eleven minutes" && n != 1 {
				t.Errorf("%d pauses told, %d recorded", paused, n)
			}
			if d := cmp.Diff(want.beats, beats); d != "" {
				t.Errorf("told (-want +got):\n%.2000s", d)
			}
		})
	}
}

// While the disk is full nothing is told but that once, beats of ten minutes wait even at a
// hundred a second, and past the bound the session ends, with what is lost.
func TestTimingPauseIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &tight{full: func() bool { return true }}
		var heard []Event
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- timingOn(store, &heard).Run(t.Context(), in) }()
		n := 0
		for ; n < 100*600; n++ {
			in <- []devices.Said{beat(int64(n*10), uint64(n))}
			time.Sleep(10 * time.Millisecond)
		}
		synctest.Wait()
		if len(heard) != 1 || heard[0].Kind != Waits || !strings.HasSuffix(heard[0].Fault.Text, ": disk full") {
			t.Fatalf("told %+v, want once that the disk is full", heard)
		}
		var err error
		for err == nil {
			select {
			case in <- []devices.Said{beat(int64(n*10), uint64(n))}:
				n++
			case err = <-done:
			}
		}
		if !errors.Is(err, errNoRoom) || n != holdPaused+1 || !strings.HasPrefix(err.Error(), "the last 65537 lines that came are not kept: ") || store.endedAt.IsZero() {
			t.Errorf("after %d beats, session ended at %v: %v", n, store.endedAt, err)
		}
	})
}

// A session that is ended while the disk is full tries once more, and says what is lost.
func TestTimingEndsPaused(t *testing.T) {
	for _, room := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			full := true
			store := &tight{full: func() bool { return full }}
			var heard []Event
			in, done := make(chan []devices.Said), make(chan error, 1)
			go func() { done <- timingOn(store, &heard).Run(t.Context(), in) }()
			in <- []devices.Said{beat(0, 1), beat(100, 2)}
			time.Sleep(holdFor)
			synctest.Wait()
			full = !room
			close(in)
			err := <-done
			switch {
			case room && (err != nil || len(store.beats) != 2 || len(store.faults) != 1):
				t.Errorf("with room: %d beats, %d faults, %v", len(store.beats), len(store.faults), err)
			case !room && (err == nil || err.Error() != "the last 2 lines that came are not kept: disk full"):
				t.Errorf("without room: %v", err)
			}
		})
	}
}

// A book that another program holds is waited for as a full disk is, and said so.
func TestTimingWaitsForTheBook(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		store := &tight{busy: true, full: func() bool { s := time.Since(began); return s > 5*time.Second && s < 40*time.Second }}
		var heard []Event
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- timingOn(store, &heard).Run(t.Context(), in) }()
		for i := range 600 {
			in <- []devices.Said{beat(int64(i*100), uint64(i))}
			time.Sleep(100 * time.Millisecond)
		}
		close(in)
		if err := <-done; err != nil {
			t.Error(err)
		}
		var waits []string
		for _, e := range heard {
			if e.Kind == Waits {
				waits = append(waits, e.Fault.Text)
			}
		}
		want := []string{"recording waits for the book, with what comes in memory (at most 65536 lines): another program holds the book"}
		if d := cmp.Diff(want, waits); d != "" || len(store.beats) != 600 {
			t.Errorf("%d beats in the book\n%s", len(store.beats), d)
		}
		if len(store.faults) != 1 || !strings.HasPrefix(store.faults[0].Text, "another program held the book for 3") {
			t.Errorf("faults: %+v", store.faults)
		}
	})
}
