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
		d := newDrawing(func(_ context.Context, drawn string) (string, []byte, error) {
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
			return from, []byte("page of " + from), nil
		})
		ask := func(n int, want string) {
			var all sync.WaitGroup
			for range n {
				all.Go(func() {
					if got, err := d.get(t.Context()); err != nil || string(got) != want {
						t.Errorf("%q, %v, want %q", got, err, want)
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
	err := broken
	d := newDrawing(func(context.Context, string) (string, []byte, error) { return "1", []byte("page"), err })
	if _, got := d.get(t.Context()); !errors.Is(got, broken) {
		t.Errorf("error %v, want %v", got, broken)
	}
	err = nil
	if got, err := d.get(t.Context()); err != nil || string(got) != "page" {
		t.Errorf("%q, %v after a failure", got, err)
	}
	gone, leave := context.WithCancel(t.Context())
	leave()
	d.turn <- struct{}{}
	if _, err := d.get(gone); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of one that has gone", err)
	}
}
