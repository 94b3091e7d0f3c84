package recorder

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// fullDisk is a book with a session on a real file system of 1 MiB that is full up to the
// last byte, until room is called,
// which makes 192 KiB.
func fullDisk(t *testing.T, kind string) (b *book.Book, s sessions.Session, room func()) {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skip("needs the right to mount a small disk: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	b, err := book.Open(t.Context(), filepath.Join(dir, "book.db"), book.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	c, err := b.AddClock(t.Context(), sessions.Clock{Name: "Hall clock"})
	if err != nil {
		t.Fatal(err)
	}
	s = sessions.Session{ClockID: c.ID, Kind: kind, Profile: "caliper", Started: noon}
	if s.ID, err = b.StartSession(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	fill := filepath.Join(dir, "fill")
	if err := os.WriteFile(fill, make([]byte, 1<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(err)
	}
	return b, s, func() {
		full, err := os.Stat(fill)
		if err == nil {
			err = os.Truncate(fill, full.Size()-192<<10)
		}
		if err != nil {
			t.Error(err)
		}
	}
}

// sound asks the book's own check.
func sound(t *testing.T, b *book.Book) {
	t.Helper()
	if r, err := b.Check(t.Context()); err != nil || !r.OK() {
		t.Errorf("check: %+v, %v", r, err)
	}
}

// A real disk runs full while a clock is timed: the session waits, goes on with room, and
// the book has every beat and that it was full.
func TestTimingOnFullDisk(t *testing.T) {
	b, ses, room := fullDisk(t, sessions.SessionTime)
	n, waits, kept := 0, 0, 0
	synctest.Test(t, func(t *testing.T) {
		r := timingOn(b, new([]Event))
		r.Session = ses
		r.Tell = func(e Event) error {
			if kept += len(e.Beats); e.Kind == Waits {
				waits++
			}
			return nil
		}
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- r.Run(t.Context(), in) }()
		more := func() {
			in <- []devices.Said{beat(int64(n*1000), uint64(n*1000))}
			n++
			time.Sleep(time.Second)
			synctest.Wait()
		}
		for waits == 0 && n < 5000 {
			more()
		}
		before := kept
		for range 600 {
			more()
		}
		if waits != 1 || kept != before {
			t.Errorf("told of %d beats while the disk was full, and %d times that it is", kept-before, waits)
		}
		room()
		more()
		if kept != n {
			t.Errorf("a second after there was room: %d beats of %d told of", kept, n)
		}
		close(in)
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	count, err := b.BeatCount(t.Context(), ses.ID)
	faults, ferr := b.Faults(t.Context(), ses.ID)
	if err := errors.Join(err, ferr); err != nil || count != int64(n) || len(faults) != 1 || faults[0].Kind != string(Paused) {
		t.Errorf("%d beats of %d in the book, faults %+v, %v", count, n, faults, err)
	}
	sound(t, b)
}

// The same while a clock is measured: a reading is told of as kept once it is on the disk.
func TestMeasuringOnFullDisk(t *testing.T) {
	b, ses, room := fullDisk(t, sessions.SessionMeasure)
	n, waits, kept := 0, 0, 0
	bores := plan.Plan{Name: "bores", Part: "barrel", Steps: []plan.Step{
		{Dimension: "bore", Count: 10000, Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 1e-3}}}
	synctest.Test(t, func(t *testing.T) {
		m := &Measuring{Store: b, Session: ses, Progress: plan.Start(bores), Parse: plain, TypedLimit: 1e-3, Log: zerolog.Nop(),
			Limit: func(sessions.Kind) float64 { return 4e-5 },
			Tell: func(e Event) error {
				switch e.Kind {
				case Kept:
					kept++
				case Waits:
					waits++
				}
				return nil
			}}
		in, done := make(chan Item), make(chan error, 1)
		go func() { done <- m.Run(context.Background(), in) }()
		more := func() {
			in <- read(int64(n*1000), 63.5)
			n++
			time.Sleep(time.Second)
			synctest.Wait()
		}
		for waits == 0 && n < 5000 {
			more()
		}
		before, waited := kept, waits
		for range 600 {
			more()
		}
		if waited == 0 || waits-waited != 600 || kept != before {
			t.Errorf("of 600 readings while the disk was full, %d told of as kept and %d as waiting", kept-before, waits-waited)
		}
		room()
		in <- key(int64(n*1000), Finish)
		if err := <-done; err != nil || kept != n {
			t.Errorf("finished once there was room: %d readings of %d told of, %v", kept, n, err)
		}
	})
	readings, err := b.Readings(t.Context(), ses.ClockID)
	faults, ferr := b.Faults(t.Context(), ses.ID)
	if err := errors.Join(err, ferr); err != nil || len(readings) != n || len(faults) != 1 || faults[0].Kind != string(Paused) {
		t.Errorf("%d readings of %d in the book, faults %+v, %v", len(readings), n, faults, err)
	}
	sound(t, b)
}
