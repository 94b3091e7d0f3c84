package port

import (
	"context"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"evenbeat/devices"
)

// moment is what a fake device does at one read.
type moment struct {
	wait  time.Duration
	bytes string
	pins  devices.Pins
	step  time.Duration // by which the host's clock is set meanwhile
}

// fakeDevice plays moments in a bubble's time, and is gone after the last.
type fakeDevice struct {
	t       *testing.T
	moments []moment
	pins    devices.Pins
	wrote   []string
	utc     time.Duration // by how much the host's clock was set
	closed  bool
}

func (d *fakeDevice) Read(p []byte) (int, error) {
	if d.closed {
		d.t.Error("read after it was closed")
	}
	if len(d.moments) == 0 {
		return 0, io.EOF
	}
	m := d.moments[0]
	d.moments = d.moments[1:]
	time.Sleep(m.wait) // the bubble's clock: nothing waits
	d.pins = m.pins
	d.utc += m.step
	return copy(p, m.bytes), nil
}

func (d *fakeDevice) Write(p []byte) (int, error) {
	d.wrote = append(d.wrote, string(p))
	return len(p), nil
}

func (d *fakeDevice) Pins() (devices.Pins, error) { return d.pins, nil }

func (d *fakeDevice) Waker() (waker, error) { return nil, errors.ErrUnsupported }

func (d *fakeDevice) Close() error { d.closed = true; return nil }

// runFake runs a port on d until it is gone and returns what it delivered.
func runFake(t *testing.T, d *fakeDevice, o Options) []devices.Chunk {
	t.Helper()
	start := time.Now()
	o.Now = func() devices.Stamp {
		mono := time.Since(start)
		return devices.Stamp{Mono: int64(mono), UTC: int64(mono + d.utc)}
	}
	got := runUntilGone(t, d, o)
	if !d.closed {
		t.Error("it wasn't closed")
	}
	return got
}

func runUntilGone(t *testing.T, d device, o Options) []devices.Chunk {
	t.Helper()
	p := &Port{name: "fake", o: o, dev: d, ask: make(chan struct{}, 1)}
	p.Ask()
	var got []devices.Chunk
	err := p.Run(t.Context(), func(c devices.Chunk) error {
		c.Bytes = append([]byte(nil), c.Bytes...)
		got = append(got, c)
		return nil
	})
	if e, ok := errors.AsType[*Error](err); !ok || e.Kind != Gone || !errors.Is(err, io.EOF) {
		t.Errorf("ended with %v", err)
	}
	return got
}

func stamp(mono, utc time.Duration) devices.Stamp {
	return devices.Stamp{Mono: int64(mono), UTC: int64(utc)}
}

const ms = time.Millisecond

func TestPausesAndClockSteps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &fakeDevice{t: t, moments: []moment{
			{wait: 10 * ms, bytes: "a"}, {wait: 50 * ms}, {wait: 50 * ms},
			{wait: 5 * ms, bytes: "b", step: 2 * time.Second}, {wait: 50 * ms, step: 9 * ms}, {wait: 50 * ms, step: -time.Second},
		}}
		got := runFake(t, d, Options{})
		want := []devices.Chunk{
			{At: stamp(10*ms, 10*ms), Bytes: []byte("a")},
			{At: stamp(60*ms, 60*ms)}, // the pause is told once
			{At: stamp(115*ms, 2115*ms), Fault: devices.FaultClockStep, Text: stepText(2 * time.Second)},
			{At: stamp(115*ms, 2115*ms), Bytes: []byte("b")},
			{At: stamp(165*ms, 2174*ms)}, // 9 ms isn't told as a step
			{At: stamp(215*ms, 1224*ms), Fault: devices.FaultClockStep, Text: stepText(-time.Second)},
			{At: stamp(215*ms, 1224*ms), Fault: devices.FaultUnplugged, Text: "the port went away: EOF"},
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("want -, got +\n%s", d)
		}
	})
}

func TestPinChanges(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &fakeDevice{t: t, pins: devices.PinDSR, moments: []moment{
			{wait: ms, pins: devices.PinDSR}, {wait: ms, pins: devices.PinDSR | devices.PinCTS}, {wait: ms, pins: devices.PinRI},
		}}
		got := runFake(t, d, Options{Pins: true})
		want := []devices.Chunk{
			{At: stamp(2*ms, 2*ms), Changed: devices.PinCTS, Pins: devices.PinDSR | devices.PinCTS},
			{At: stamp(3*ms, 3*ms), Changed: devices.PinDSR | devices.PinCTS | devices.PinRI, Pins: devices.PinRI},
			{At: stamp(3*ms, 3*ms), Fault: devices.FaultUnplugged, Text: "the port went away: EOF"},
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("want -, got +\n%s", d)
		}
	})
}

func TestRequestsAreTimed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := &fakeDevice{t: t, moments: make([]moment, 10)}
		for i := range d.moments {
			d.moments[i].wait = 50 * ms
		}
		runFake(t, d, Options{Settings: Settings{Request: []byte("?"), RequestEvery: 200 * ms}})
		if want := []string{"?", "?", "?"}; !cmp.Equal(d.wrote, want) { // at 0 for Ask, at 200 and 400 ms
			t.Errorf("asked %q, want %q", d.wrote, want)
		}
	})
}

func TestReplugIsAwaited(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		second := &fakeDevice{t: t, moments: []moment{{bytes: "back"}}}
		tries := 0
		p := &Port{name: "fake", o: Options{Reconnect: true, Now: goClock()}, dev: &fakeDevice{t: t}, ask: make(chan struct{}, 1)}
		p.reopen = func() (device, error) {
			if tries++; tries < 4 {
				return nil, &Error{Port: "fake", Kind: NoSuchPort}
			}
			return second, nil
		}
		ctx, stop := context.WithCancel(t.Context())
		var texts []string
		err := p.Run(ctx, func(c devices.Chunk) error {
			texts = append(texts, c.Text+string(c.Bytes))
			if len(c.Bytes) > 0 {
				stop()
			}
			return nil
		})
		if want := []string{"the port went away: EOF", "back after 750ms", "back"}; err != nil || !cmp.Equal(texts, want) {
			t.Errorf("got %q, %v, want %q", texts, err, want)
		}
		if !second.closed {
			t.Error("the second device wasn't closed")
		}
	})
}
