package page

import (
	"context"
	"errors"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// Many who ask at once share a few looks at the book, one at a time, and one drawing.
// None gets a page from a look that began before it asked.
func TestDrawingIsShared(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var rows, looks, draws, at atomic.Int64
		rows.Store(7)
		var s shelf[string]
		look := func(_ context.Context, drawn string) (string, *string, error) {
			if at.Add(1) != 1 {
				t.Error("two looks at once")
			}
			defer at.Add(-1)
			looks.Add(1)
			from := strconv.FormatInt(rows.Load(), 10)
			time.Sleep(time.Millisecond)
			if from == drawn {
				return from, nil, nil
			}
			draws.Add(1)
			time.Sleep(time.Second)
			page := "page of " + from
			return from, &page, nil
		}
		ask := func(n int, want string) {
			var all sync.WaitGroup
			for range n {
				all.Go(func() {
					if from, got, err := s.get(t.Context(), "sheet", "1", look); err != nil || *got != want || want != "page of "+from {
						t.Errorf("%v of %s, %v, want %q", got, from, err, want)
					}
				})
			}
			all.Wait()
		}
		ask(200, "page of 7")
		if looks.Load() > 2 || draws.Load() != 1 {
			t.Errorf("%d looks, %d drawings", looks.Load(), draws.Load())
		}
		time.Sleep(time.Second)
		rows.Store(8)
		ask(200, "page of 8")
		if draws.Load() != 2 {
			t.Errorf("%d drawings after a new row, want 2", draws.Load())
		}
	})
}

// Whoever has gone waits no longer, and what fails is tried again.
func TestDrawingFails(t *testing.T) {
	broken := errors.New("broken")
	err, page := broken, "page"
	var s shelf[string]
	look := func(context.Context, string) (string, *string, error) { return "1", &page, err }
	if _, _, got := s.get(t.Context(), "sheet", "1", look); !errors.Is(got, broken) {
		t.Errorf("error %v, want %v", got, broken)
	}
	err = nil
	if _, got, err := s.get(t.Context(), "sheet", "1", look); err != nil || *got != page {
		t.Errorf("%v, %v after a failure", got, err)
	}
	gone, leave := context.WithCancel(t.Context())
	leave()
	s.turns["sheet"] <- struct{}{}
	if _, _, err := s.get(gone, "sheet", "1", look); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of one that has gone", err)
	}
	if _, _, err := s.get(t.Context(), "beat", "1", look); err != nil {
		t.Errorf("another kind waits for the sheet: %v", err)
	}
}

// What was drawn longest ago makes room, so that no number of addresses fills the memory.
func TestShelfIsBounded(t *testing.T) {
	var s shelf[int]
	draws := 0
	at := func(n int) {
		_, _, err := s.get(t.Context(), "beat", strconv.Itoa(n), func(_ context.Context, drawn string) (string, *int, error) {
			if drawn != "" {
				return drawn, nil, nil
			}
			draws++
			return "1", &n, nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for n := range mostKept + 1 {
		at(n)
		at(n)
	}
	if len(s.kept) != mostKept || len(s.order) != mostKept || draws != mostKept+1 {
		t.Errorf("%d kept, %d in order, %d drawn", len(s.kept), len(s.order), draws)
	}
	if at(0); draws != mostKept+2 {
		t.Errorf("%d drawn once the first is asked for again", draws)
	}
}
