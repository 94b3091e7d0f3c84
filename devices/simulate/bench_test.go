package simulate

import (
	"context"
	"errors"
	"io"
	"iter"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

var benchStart = time.Date(2025, time.March, 5, 10, 0, 0, 0, time.UTC)

type arrived struct {
	at    int64
	bytes string
}

// consume reads like a port: stamp what came, hand it on, report it. Reads are
// cut at random. It ends when the reader does.
func consume(t *testing.T, b *Bench, r io.Reader, seed uint64) <-chan []arrived {
	done := make(chan []arrived, 1)
	go func() {
		rng := rand.New(rand.NewPCG(seed, 0))
		var got []arrived
		buf := make([]byte, 64)
		for {
			n, err := r.Read(buf[:1+rng.IntN(len(buf))])
			if n > 0 {
				at := b.Now()
				if at.UTC-benchStart.UnixNano() != at.Mono {
					t.Errorf("wall and monotonic time differ: %+v", at)
				}
				if last := len(got) - 1; last >= 0 && got[last].at == at.Mono {
					got[last].bytes += string(buf[:n])
				} else {
					got = append(got, arrived{at.Mono, string(buf[:n])})
				}
				b.Consumed(n)
			}
			if err != nil {
				done <- got
				return
			}
		}
	}()
	return done
}

func newBench(t *testing.T) *Bench {
	t.Helper()
	h, err := NewHost(HostConfig{Start: benchStart, Sleeps: []Span{{1e6, 2e6}}})
	if err != nil {
		t.Fatal(err)
	}
	return NewBench(h)
}

func script(events []arrived) iter.Seq2[int64, []byte] {
	return func(yield func(int64, []byte) bool) {
		for _, e := range events {
			if !yield(e.at, []byte(e.bytes)) {
				return
			}
		}
	}
}

func TestBenchOverAPipeInTheProcess(t *testing.T) {
	l := pipe()
	b := newBench(t)
	done := consume(t, b, l.Host, 1)
	want := []arrived{{5, "1.00mm\r\n"}, {7e9, "2.00mm\r\n"}}
	asleep := arrived{1.5e15, "lost"}
	if err := b.Play(t.Context(), l.Instrument, script(append(want, asleep))); err != nil {
		t.Fatal(err)
	}
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if got := <-done; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestBenchTimeRunsForwardOnly(t *testing.T) {
	b := newBench(t)
	b.AdvanceTo(5e9)
	b.AdvanceTo(3e9)
	if got := b.Now(); got.Mono != 5e9 || got.UTC != benchStart.Add(5*time.Second).UnixNano() {
		t.Errorf("got %+v, want 5 s after the start", got)
	}
}

func TestBenchSaysWhenItCannotGoOn(t *testing.T) {
	one := script([]arrived{{1, "x"}, {2, "y"}})

	b := newBench(t)
	ctx, stop := context.WithCancel(t.Context())
	wrote := writer(func(p []byte) (int, error) { stop(); return len(p), nil })
	if err := b.Play(ctx, wrote, one); !errors.Is(err, context.Canceled) {
		t.Errorf("nobody reads and the context ended: got %v", err)
	}

	greedy := writer(func(p []byte) (int, error) { b.Consumed(len(p) + 1); return len(p), nil })
	if err := b.Play(t.Context(), greedy, one); !errors.Is(err, ErrOverConsumed) {
		t.Errorf("more taken than sent: got %v", err)
	}

	// After both it still plays: what was on its way is forgotten.
	fair := writer(func(p []byte) (int, error) { b.Consumed(len(p)); return len(p), nil })
	if err := b.Play(t.Context(), fair, one); err != nil {
		t.Errorf("a good line after bad ones: got %v", err)
	}

	broken := writer(func([]byte) (int, error) { return 0, io.ErrClosedPipe })
	if err := b.Play(t.Context(), broken, one); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("line closed: got %v", err)
	}
}

type writer func([]byte) (int, error)

func (w writer) Write(p []byte) (int, error) { return w(p) }
