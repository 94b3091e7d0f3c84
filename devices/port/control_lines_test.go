package port

import (
	"errors"
	"io"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"evenbeat/devices"
)

// swing is a time at which the lines of a pinDevice change, and how the system hears
// of it.
type swing struct {
	at      time.Duration
	on      devices.Pins
	moves   moves         // as the system counts: cts, dsr, dcd, ri
	wakes   time.Duration // how long the waiting one sleeps on
	unheard bool          // it was not waiting just then
	reads   time.Duration // how long reading the lines takes it then
}

// pinDevice plays swings in a bubble's time while it is read each millisecond, and is
// gone after a while.
type pinDevice struct {
	start  time.Time
	end    time.Duration
	bytes  map[time.Duration]string // by when a read brings them
	swings []swing
	waits  bool // the system can be waited in

	mu    sync.Mutex // of what follows: reader and waiter share it
	next  int
	reads time.Duration
	moves moves
	shut  int // how often the waker was closed
	gone  chan struct{}
}

func (d *pinDevice) now() time.Duration { return time.Since(d.start) }

func (d *pinDevice) Read(p []byte) (int, error) {
	time.Sleep(ms) // the bubble's, here and below: nothing waits
	if d.now() >= d.end {
		return 0, io.EOF
	}
	return copy(p, d.bytes[d.now()]), nil
}

func (d *pinDevice) Write(p []byte) (int, error) { return len(p), nil }

func (d *pinDevice) Pins() (devices.Pins, error) {
	on := devices.Pins(0)
	for _, s := range d.swings {
		if s.at <= d.now() {
			on = s.on
		}
	}
	return on, nil
}

func (d *pinDevice) Close() error { close(d.gone); return nil }

func (d *pinDevice) Waker() (waker, error) {
	if !d.waits {
		return nil, errors.ErrUnsupported
	}
	return pinWaker{d}, nil
}

type pinWaker struct{ d *pinDevice }

func (w pinWaker) Wait() error {
	d := w.d
	for {
		d.mu.Lock()
		at := d.next
		d.next++
		d.mu.Unlock()
		if at >= len(d.swings) {
			<-d.gone
			return io.ErrClosedPipe
		}
		s := d.swings[at]
		d.mu.Lock()
		for i, n := range s.moves {
			d.moves[i] += n
		}
		d.mu.Unlock()
		if s.unheard {
			continue
		}
		time.Sleep(s.at + s.wakes - d.now())
		d.mu.Lock()
		d.reads = s.reads
		d.mu.Unlock()
		return nil
	}
}

func (w pinWaker) Lines() (on devices.Pins, n moves, err error) {
	on, err = w.d.Pins()
	w.d.mu.Lock()
	reads := w.d.reads
	w.d.mu.Unlock()
	time.Sleep(reads)
	w.d.mu.Lock()
	defer w.d.mu.Unlock()
	n, w.d.moves = w.d.moves, moves{}
	return on, n, err
}

func (w pinWaker) Close() error {
	w.d.mu.Lock()
	defer w.d.mu.Unlock()
	w.d.shut++
	return nil
}

const us = time.Microsecond

// A change that is waited for has the time of waking, not of the next look; a pulse
// between two looks is told as two changes; one that nobody waited for is told by a
// look; and none is told twice.
func TestEdgesAreWaitedFor(t *testing.T) {
	const cts, dcd, ri = devices.PinCTS, devices.PinDCD, devices.PinRI
	at := func(d time.Duration, changed, on devices.Pins) devices.Chunk {
		return devices.Chunk{At: stamp(d, d), Changed: changed, Pins: on}
	}
	swings := []swing{
		{at: 2300 * us, on: cts, moves: moves{1}, wakes: 20 * us},
		{at: 4100 * us, on: 0, moves: moves{1}, wakes: 20 * us},
		{at: 6400 * us, on: 0, moves: moves{0, 0, 2}, wakes: 30 * us},          // a pulse, over before it was read
		{at: 8200 * us, on: dcd, moves: moves{0, 0, 1}, unheard: true},         // nobody is woken: it is told with the next, looks being seldom
		{at: 11200 * us, on: dcd | cts, moves: moves{1}, wakes: 1900 * us},     // woken late
		{at: 14700 * us, on: dcd, moves: moves{1}, wakes: 10 * us},             // its next is as good as ever
		{at: 16500 * us, on: dcd | cts, moves: moves{1, 0, 2}, wakes: 15 * us}, // one stays, one comes back
		{at: 17200 * us, on: dcd, moves: moves{0}, wakes: 15 * us},             // counted only when it had been read
		{at: 17600 * us, on: dcd, moves: moves{1}, wakes: 15 * us},
		{at: 18200 * us, on: dcd, moves: moves{0, 0, 0, 1}, wakes: 5 * us}, // a ring of which its end alone is counted
	}
	for _, c := range []struct {
		name  string
		waits bool
		want  []devices.Chunk
	}{
		{"waited for", true, []devices.Chunk{
			at(2320*us, cts, cts), at(4120*us, cts, 0), at(6430*us, dcd, dcd), at(6430*us, dcd, 0),
			at(13100*us, cts|dcd, dcd|cts), at(14710*us, cts, dcd),
			at(16515*us, dcd, 0), at(16515*us, cts|dcd, dcd|cts),
			at(17215*us, cts, dcd), at(18205*us, ri, dcd|ri), at(18205*us, ri, dcd),
		}},
		{"looked for", false, []devices.Chunk{
			at(3*ms, cts, cts), at(5*ms, cts, 0), at(9*ms, dcd, dcd), at(12*ms, cts, dcd|cts), at(15*ms, cts, dcd), at(17*ms, cts, dcd|cts), at(18*ms, cts, dcd),
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := &pinDevice{start: time.Now(), end: 20 * ms, swings: swings, waits: c.waits, gone: make(chan struct{}),
					bytes: map[time.Duration]string{3 * ms: "x"}}
				got := runUntilGone(t, d, Options{Pins: true, Now: goClock()})
				var changes []devices.Chunk
				last := int64(0)
				for _, g := range got {
					if g.At.Mono < last {
						t.Errorf("%+v comes after %d ns", g, last)
					}
					if last = g.At.Mono; g.Changed != 0 {
						g.At.UTC, g.Bytes = g.At.Mono, nil
						changes = append(changes, g)
					}
				}
				if d := cmp.Diff(c.want, changes); d != "" {
					t.Errorf("want -, got +\n%s", d)
				}
			})
		})
	}
}

// changes runs a port on swings, read each millisecond, and returns what was told.
func changes(t *testing.T, swings ...swing) (got []devices.Chunk) {
	t.Helper()
	d := &pinDevice{start: time.Now(), end: 80 * ms, swings: swings, waits: true, gone: make(chan struct{})}
	for _, c := range runUntilGone(t, d, Options{Pins: true, Now: goClock()}) {
		if c.Changed != 0 {
			got = append(got, devices.Chunk{At: stamp(time.Duration(c.At.Mono), time.Duration(c.At.Mono)), Changed: c.Changed, Pins: c.Pins})
		}
	}
	time.Sleep(time.Second) // the bubble's; the wait outlasts the port until the next change
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.shut != 1 {
		t.Errorf("the waker was closed %d times", d.shut)
	}
	return got
}

// However long reading the lines takes, the time is that of waking; and what the
// driver wakes nobody for is told from the looks, were it seen by one alone.
func TestEdgesOfSlowAndDeafDrivers(t *testing.T) {
	const cts = devices.PinCTS
	at := func(d time.Duration, on devices.Pins) devices.Chunk {
		return devices.Chunk{At: stamp(d, d), Changed: cts, Pins: on}
	}
	for _, c := range []struct {
		name   string
		swings []swing
		want   []devices.Chunk
	}{
		{"slow", []swing{{at: 2300 * us, on: cts, moves: moves{1}, wakes: 20 * us, reads: 5 * ms}, {at: 100 * ms}, {at: 101 * ms}}, []devices.Chunk{at(2320*us, cts)}},
		{"deaf", []swing{{at: 2300 * us, on: cts, moves: moves{1}, unheard: true}, {at: 3800 * us, moves: moves{1}, unheard: true}},
			[]devices.Chunk{at(3*ms, cts), at(4*ms, 0)}},
		// Once it has woken somebody the lines are looked at seldom, until it misses one.
		{"deaf later", []swing{{at: 2300 * us, on: cts, moves: moves{1}, wakes: 20 * us}, {at: 23800 * us, moves: moves{1}, unheard: true},
			{at: 51300 * us, on: cts, moves: moves{1}, unheard: true}, {at: 52800 * us, moves: moves{1}, unheard: true}},
			[]devices.Chunk{at(2320*us, cts), at(42*ms, 0), at(52*ms, cts), at(53*ms, 0)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				if d := cmp.Diff(c.want, changes(t, c.swings...)); d != "" {
					t.Errorf("want -, got +\n%s", d)
				}
			})
		})
	}
}

// Bytes that come while the waiter is still reading the lines overtake the change,
// which then has their stamp: a capture, for one, takes chunks in order alone.
func TestEdgesComeInOrder(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		swings := []swing{{at: 2900 * us, on: devices.PinDCD, moves: moves{0, 0, 1}, wakes: 50 * us, reads: 100 * us}}
		d := &pinDevice{start: time.Now(), end: 6 * ms, swings: swings, waits: true, gone: make(chan struct{}),
			bytes: map[time.Duration]string{3 * ms: "x"}}
		got := runUntilGone(t, d, Options{Pins: true, Now: goClock()})
		if len(got) < 2 || string(got[0].Bytes) != "x" || got[1].Changed != devices.PinDCD || got[1].At.Mono != got[0].At.Mono {
			t.Errorf("got %+v, want the byte and then the change, at the same time", got)
		}
	})
}
