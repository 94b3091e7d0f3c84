package book

import (
	"bytes"
	"context"
	"errors"
	"runtime"
	"testing"

	"github.com/ncruces/go-sqlite3"

	"evenbeat/sessions"
)

// A walk that is left early, cancelled, or whose caller panics, has ended when it
// returns: no goroutine is left, the book can be written, and a new walk hears all.
func TestWalkLeftEarly(t *testing.T) {
	b := newBook(t)
	c, err := b.AddClock(t.Context(), sessions.Clock{Name: "Barn"})
	if err != nil {
		t.Fatal(err)
	}
	ses, err := b.StartSession(t.Context(), sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: noon})
	if err != nil {
		t.Fatal(err)
	}
	beats := sensor(4, 9*largeChunk)
	if err := b.AppendBeats(t.Context(), ses, beats); err != nil {
		t.Fatal(err)
	}
	for _, stopAfter := range []int{0, 1, 3, 4, 9} { // within a chunk, at its end, chunks later
		steps := 0
		for part, err := range b.Beats(t.Context(), ses) {
			if err != nil || len(part) != atOnce {
				t.Fatalf("step %d: %d beats, error %v", steps, len(part), err)
			}
			if steps++; steps > stopAfter {
				break
			}
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var failed error
	for _, err := range b.Beats(ctx, ses) {
		cancel()
		failed = err
	}
	if !errors.Is(failed, context.Canceled) {
		t.Errorf("cancelled: error %v, want that it was", failed)
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the caller's panic didn't come through")
			}
		}()
		for range b.Beats(t.Context(), ses) {
			panic("caller")
		}
	}()
	stacks := make([]byte, 1<<20)
	if stacks = stacks[:runtime.Stack(stacks, true)]; bytes.Contains(stacks, []byte("readChunks")) {
		t.Errorf("still reading after walks left early:\n%s", stacks)
	}
	if n := b.db.Stats().InUse; n != 0 {
		t.Errorf("%d connections in use after walks left early", n)
	}
	if err := b.AppendBeats(t.Context(), ses, beats[:5]); err != nil {
		t.Errorf("writing after: %v", err)
	}
	n := 0
	for part, err := range b.Beats(t.Context(), ses) {
		if err != nil {
			t.Fatal(err)
		}
		for i, got := range part {
			if want := toMicroseconds(beats[(n+i)%len(beats)]); got != want {
				t.Fatalf("beat %d: got %+v, want %+v", n+i, got, want)
			}
		}
		n += len(part)
	}
	if n != len(beats)+5 {
		t.Errorf("%d beats, want %d", n, len(beats)+5)
	}
}

// An interrupted statement is a cancelled one, whichever error came back first.
func TestInterruptedIsCancelled(t *testing.T) {
	if err := fail("book.db", "reading beats", sqlite3.INTERRUPT); !errors.Is(err, context.Canceled) {
		t.Errorf("%v: want the context's error in it", err)
	}
}
