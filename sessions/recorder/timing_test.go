package recorder

import (
	"context"
	"slices"
	"sync"
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
	_ BeatStore    = (*book.Book)(nil)
	_ ReadingStore = (*book.Book)(nil)
)

// memory is a book in memory: a bubble's clock stands still while a file is waited
// for. It writes down what is done to it, in order.
type memory struct {
	mu        sync.Mutex
	beats     []sessions.Beat
	told      []sessions.Reference
	faults    []sessions.Fault
	air       []sessions.Air
	did       []string
	hold      chan struct{} // if not nil, an append waits here
	endedAt   time.Time
	copied    []int // how many beats a copy of the file held, checkpoint by checkpoint
	compacted int
}

func (m *memory) AppendBeats(_ context.Context, _ int64, beats []sessions.Beat) error {
	if m.hold != nil {
		<-m.hold
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	m.beats = append(m.beats, beats...)
	m.did = append(m.did, "beats")
	return nil
}
func (m *memory) AppendReferences(_ context.Context, _ int64, told []sessions.Reference) error {
	m.told = append(m.told, told...)
	m.did = append(m.did, "references")
	return nil
}
func (m *memory) CompactBeats(context.Context, int64) error { m.compacted++; return nil }
func (m *memory) AddFault(_ context.Context, f sessions.Fault) (int64, error) {
	m.faults = append(m.faults, f)
	m.did = append(m.did, f.Kind)
	return int64(len(m.faults)), nil
}
func (m *memory) AddAir(_ context.Context, a sessions.Air) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.air = append(m.air, a)
	m.did = append(m.did, "air")
	return int64(len(m.air)), nil
}
func (m *memory) EndSession(_ context.Context, _ int64, at time.Time) error {
	m.endedAt = at
	return nil
}

func (m *memory) Checkpoint(context.Context) error {
	m.copied = append(m.copied, m.kept())
	return nil
}

func (m *memory) rows() []sessions.Air {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.Clone(m.air)
}

func (m *memory) kept() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.beats)
}

func beat(ms int64, count uint64) devices.Said {
	return devices.Said{Kind: devices.KindBeat, At: stamp(ms), Beat: devices.Beat{Count: count, HasCount: true, Edge: 1, HasEdge: true}}
}

// A beat of a quiet clock is on the disk within a second, though none follows.
func TestTimingWithinASecond(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		r := &Timing{Store: store, Session: sessions.Session{ID: 1, ClockID: 2, Started: noon}, Log: zerolog.Nop()}
		ctx, stop := context.WithCancel(t.Context())
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- r.Run(ctx, in) }()
		for n := range 3 {
			in <- []devices.Said{beat(int64(5000+n*4000), uint64(n)*4e6)}
			time.Sleep(500 * time.Millisecond)
			synctest.Wait()
			if got := store.kept(); got != n {
				t.Errorf("0.5 s after beat %d: %d kept", n+1, got)
			}
			time.Sleep(499 * time.Millisecond)
			synctest.Wait()
			if got := store.kept(); got != n+1 {
				t.Errorf("0.999 s after beat %d: %d kept", n+1, got)
			}
			time.Sleep(3 * time.Second)
		}
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if w := noon.Add(13 * time.Second); !store.endedAt.Equal(w) || store.compacted != 1 {
			t.Errorf("ended %v, compacted %d times; want %v, once", store.endedAt, store.compacted, w)
		}
	})
}

// A copy of the book's file is never older than two seconds, however steadily beats come,
// and holds the whole session at its end. While nothing is written, nothing is copied.
func TestTimingCheckpoints(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		r := &Timing{Store: store, Session: sessions.Session{ID: 1, ClockID: 2, Started: noon}, Log: zerolog.Nop()}
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- r.Run(t.Context(), in) }()
		for n := range 10 {
			kept := store.kept()
			for range 4 { // half a second apart
				in <- []devices.Said{beat(int64(n*4), uint64(n*4))}
				time.Sleep(500 * time.Millisecond)
				synctest.Wait()
			}
			if len(store.copied) == 0 || store.copied[len(store.copied)-1] < kept {
				t.Fatalf("%d beats were kept two seconds ago, copies hold %v", kept, store.copied)
			}
		}
		time.Sleep(3 * time.Second)
		synctest.Wait()
		idle := len(store.copied)
		if store.copied[idle-1] != 40 || idle > 12 {
			t.Errorf("after 40 beats in 20 s and a rest, copies hold %v", store.copied)
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		if len(store.copied) != idle {
			t.Errorf("%d copies in an hour without a beat", len(store.copied)-idle)
		}
		close(in)
		if err := <-done; err != nil || len(store.copied) != idle+1 {
			t.Errorf("%v, %d copies at the end, want one", err, len(store.copied)-idle)
		}
	})
}

// Faults lie between the beats where they fell; the beat after a lost plug or a
// reset is marked, and no other.
func TestTimingOrder(t *testing.T) {
	store := &memory{}
	var told []string
	r := &Timing{Store: store, Session: sessions.Session{ID: 1, ClockID: 2, Started: noon}, Log: zerolog.Nop(),
		Tell: func(e Event) error {
			if e.Kind == Faulty {
				told = append(told, e.Fault.Kind)
			} else {
				told = append(told, string(e.Kind))
			}
			return nil
		}}
	bad := func(ms int64, k devices.FaultKind) devices.Said {
		return devices.Said{Kind: devices.KindFault, At: stamp(ms), Fault: k, Text: string(k)}
	}
	in := make(chan []devices.Said, 3)
	in <- []devices.Said{bad(0, devices.FaultGarbage), beat(10, 7), beat(20, 8), bad(21, devices.FaultLost), beat(30, 9)}
	in <- []devices.Said{bad(31, devices.FaultUnplugged), bad(32, devices.FaultReplugged), beat(40, 1), bad(41, devices.FaultReset), beat(50, 0), beat(60, 5)}
	in <- []devices.Said{{Kind: devices.KindAir, At: stamp(61), Air: devices.Air{TemperatureC: 21, HasTemperature: true}},
		{Kind: devices.KindReading, At: stamp(62), Text: "63.5mm"}}
	close(in)
	if err := r.Run(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	order := []string{"garbage", "beats", "lost", "beats", "unplugged", "replugged", "beats", "reset", "beats", "not asked for", "air"}
	if !slices.Equal(store.did, order) || !slices.Equal(told, order) {
		t.Errorf("did %q,\ntold %q,\nwant %q", store.did, told, order)
	}
	at := func(ms int64, count uint64, brk bool) sessions.Beat {
		return sessions.Beat{Count: count, HostMono: (ms - 10) * 1e6, HostUTC: stamp(ms).UTC, Edge: 1, Break: brk}
	}
	want := []sessions.Beat{at(10, 7, false), at(20, 8, false), at(30, 9, false), at(40, 1, true), at(50, 0, true), at(60, 5, false)}
	if d := cmp.Diff(want, store.beats); d != "" {
		t.Errorf("beats (-want +got):\n%s", d)
	}
	if len(store.air) != 1 || store.air[0].ClockID != 2 || store.air[0].TemperatureC != 21 {
		t.Errorf("air %+v", store.air)
	}
}

// While the disk is slow the sender waits: the queue is bounded and nothing is lost.
func TestTimingFullQueue(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{hold: make(chan struct{})}
		r := &Timing{Store: store, Session: sessions.Session{ID: 1, Started: noon}, Log: zerolog.Nop()}
		in, done := make(chan []devices.Said, 2), make(chan error, 1)
		go func() { done <- r.Run(t.Context(), in) }()
		const batches = 20
		var sent atomic.Int64
		go func() {
			for n := range batches {
				batch := make([]devices.Said, holdMost)
				for i := range batch {
					batch[i] = beat(int64(n*holdMost+i), uint64(n*holdMost+i))
				}
				Send(t.Context(), in, batch)
				sent.Add(1)
			}
			close(in)
		}()
		synctest.Wait()
		if got := sent.Load(); got != 3 { // one is being written, two are in the queue
			t.Errorf("%d batches sent while the disk stands still, want 3", got)
		}
		close(store.hold)
		if err := <-done; err != nil {
			t.Error(err)
		}
		for i, b := range store.beats {
			if b.Count != uint64(i) {
				t.Fatalf("beat %d has count %d", i, b.Count)
			}
		}
		if len(store.beats) != batches*holdMost {
			t.Errorf("%d beats, want %d", len(store.beats), batches*holdMost)
		}
	})
}

// An interrupt keeps what lies in the queue.
func TestTimingInterrupted(t *testing.T) {
	store := &memory{}
	r := &Timing{Store: store, Session: sessions.Session{ID: 1, Started: noon}, Log: zerolog.Nop()}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	in := make(chan []devices.Said, 3)
	in <- []devices.Said{beat(1, 1)}
	in <- []devices.Said{beat(2, 2)}
	if err := r.Run(ctx, in); err != nil || len(store.beats) != 2 {
		t.Errorf("%d beats, %v; want 2", len(store.beats), err)
	}
	if Send(ctx, make(chan int), 1) {
		t.Error("sent where nobody reads")
	}
}
