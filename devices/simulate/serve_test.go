package simulate

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"
)

func TestServeKeepsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now() // the bubble's clock
		want := []arrived{{1e9, "a"}, {1e9, "b"}, {2.5e9, "c"}, {3600e9, "d"}}
		var got []arrived
		w := writer(func(p []byte) (int, error) {
			got = append(got, arrived{int64(time.Since(began)), string(p)})
			return len(p), nil
		})
		if err := Serve(t.Context(), w, script(want)); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, want) {
			t.Errorf("got %v, want %v", got, want)
		}
	})
}

func TestServeEnds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		w := writer(func(p []byte) (int, error) { stop(); return len(p), nil })
		err := Serve(ctx, w, script([]arrived{{1e9, "a"}, {1e15, "never"}}))
		if !errors.Is(err, context.Canceled) {
			t.Errorf("context ended: got %v", err)
		}
		failed := errors.New("no line")
		w = func([]byte) (int, error) { return 0, failed }
		if err := Serve(t.Context(), w, script([]arrived{{1, "a"}})); !errors.Is(err, failed) {
			t.Errorf("line failed: got %v", err)
		}
	})
}
