package capture_test

import (
	"bytes"
	"errors"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"evenbeat/devices"
	"evenbeat/devices/capture"
)

const whole = `# a caliper, pulled out and plugged in again
@+0 2026-03-01T12:00:00.123456789Z
+0 "63,4"
+0.00068 "8mm\r\n"
+0.05068 ""
+2.5 !unplugged "the port went away"
@+3.25 2026-03-01T12:00:05.373456789Z
+3.25 !clock-step "moved by 2s"
+3.75 ^cts,dcd cts,ri
+3.8 ^dcd -
`

func start() int64 { return 1772366400123456789 }

func chunks() []devices.Chunk {
	at := func(mono, utc int64) devices.Stamp { return devices.Stamp{Mono: mono, UTC: start() + utc} }
	return []devices.Chunk{
		{At: at(0, 0), Bytes: []byte("63,4")},
		{At: at(680e3, 680e3), Bytes: []byte("8mm\r\n")},
		{At: at(50680e3, 50680e3)},
		{At: at(2.5e9, 2.5e9), Fault: devices.FaultUnplugged, Text: "the port went away"},
		{At: at(3.25e9, 5.25e9), Fault: devices.FaultClockStep, Text: "moved by 2s"},
		{At: at(3.75e9, 5.75e9), Changed: devices.PinCTS | devices.PinDCD, Pins: devices.PinCTS | devices.PinRI},
		{At: at(3.8e9, 5.8e9), Changed: devices.PinDCD},
	}
}

func readAll(r io.Reader) ([]devices.Chunk, error) {
	var got []devices.Chunk
	for cr := capture.NewReader(r); ; {
		c, err := cr.Next()
		if errors.Is(err, io.EOF) {
			return got, nil
		}
		if err != nil {
			return got, err
		}
		got = append(got, c)
	}
}

func writeAll(t testing.TB, chunks []devices.Chunk) string {
	t.Helper()
	var b bytes.Buffer
	w := capture.NewWriter(&b)
	for _, c := range chunks {
		if err := w.Write(c); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestRead(t *testing.T) {
	got, err := readAll(strings.NewReader(whole))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(chunks(), got); d != "" {
		t.Errorf("want -, got +\n%s", d)
	}
}

func TestWrite(t *testing.T) {
	moved := chunks()
	for i := range moved { // an arbitrary start of the monotonic time
		moved[i].At.Mono += 12345
	}
	_, want, _ := strings.Cut(whole, "\n")
	if got := writeAll(t, moved); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// Random chunks, written and read, are the same; the host's clock to the
// microsecond that the format promises.
func TestRoundTrip(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 3))
		var want []devices.Chunk
		at := devices.Stamp{UTC: start()}
		for range rng.IntN(40) {
			step := rng.Int64N(1 << rng.IntN(40))
			at.Mono += step
			at.UTC += step + rng.Int64N(400) - 200
			if rng.IntN(10) == 0 {
				at.UTC += rng.Int64N(4e9) - 2e9
			}
			c := devices.Chunk{At: at}
			switch rng.IntN(4) {
			case 0:
				c.Fault, c.Text = devices.FaultKinds()[rng.IntN(9)], "why \"\x00\n"
			case 1:
				c.Changed, c.Pins = devices.Pins(1+rng.IntN(15)), devices.Pins(rng.IntN(16))
			case 2:
				c.Bytes = make([]byte, 1+rng.IntN(30))
				for i := range c.Bytes {
					c.Bytes[i] = byte(rng.Uint32())
				}
			}
			want = append(want, c)
		}
		for i := len(want) - 1; i >= 0; i-- {
			want[i].At.Mono -= want[0].At.Mono
		}
		got, err := readAll(strings.NewReader(writeAll(t, want)))
		if err != nil || len(got) != len(want) {
			t.Fatalf("seed %d: %d of %d chunks, %v", seed, len(got), len(want), err)
		}
		for i := range want {
			if off := got[i].At.UTC - want[i].At.UTC; off > 1000 || off < -1000 {
				t.Fatalf("seed %d: chunk %d: the clock is off by %d ns", seed, i, off)
			}
			got[i].At.UTC = want[i].At.UTC
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("seed %d: want -, got +\n%s", seed, d)
		}
	}
}

func TestWriteOutOfOrder(t *testing.T) {
	w := capture.NewWriter(io.Discard)
	if err := w.Write(devices.Chunk{At: devices.Stamp{Mono: 5e9}}); err != nil {
		t.Fatal(err)
	}
	err := w.Write(devices.Chunk{At: devices.Stamp{Mono: 4e9}})
	if err == nil || !strings.Contains(err.Error(), "must come in order") {
		t.Errorf("got %v, want it refused", err)
	}
}

func TestReadRefuses(t *testing.T) {
	clock := "@+0 2026-03-01T12:00:00Z\n"
	for _, c := range []struct{ in, want string }{
		{"+0 \"x\"\n", "line 1 of the capture: no clock line before it"},
		{clock + "+1 \"x\"\n+0.5 \"y\"\n", "line 3 of the capture: time +0.5 goes back"},
		{clock + "+1 x\n", "bytes must be in quotes"},
		{clock + "+1\n", "write a time and what came"},
		{clock + "1 \"x\"\n", "is no time since the start"},
		{clock + "+1.0000000001 \"x\"\n", "is no time since the start"},
		{clock + "+-1 \"x\"\n", "is no time since the start"},
		{clock + "+99999999999 \"x\"\n", "is no time since the start"},
		{clock + "+1 !boiled \"x\"\n", "fault \"boiled\" is not known"},
		{clock + "+1 !lost x\n", "its text isn't in quotes"},
		{clock + "+1 ^abc -\n", "control line \"abc\" is not known"},
		{clock + "+1 ^- -\n", "names no control line"},
		{"@+0 yesterday\n", "is no time: write it like"},
		{"@+0 0001-01-01T00:00:00Z\n", "year 1: must be"},
		{clock + "+0 \"" + strings.Repeat("x", 1<<17), "line 2 of the capture: "},
	} {
		if _, err := readAll(strings.NewReader(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.40q: got %v, want %q", c.in, err, c.want)
		}
	}
}

// FuzzReader asks that whatever can be read is the same after writing and reading
// again.
func FuzzReader(f *testing.F) {
	f.Add(whole)
	f.Add("@+0 2026-03-01T12:00:00Z\n+0 \"\\xff\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		first, err := readAll(strings.NewReader(text))
		if err != nil {
			return
		}
		again, err := readAll(strings.NewReader(writeAll(t, first)))
		if err != nil || len(again) != len(first) {
			t.Fatalf("%d of %d chunks, %v", len(again), len(first), err)
		}
		for i := range first {
			first[i].At, again[i].At = devices.Stamp{}, devices.Stamp{}
		}
		if d := cmp.Diff(first, again); d != "" {
			t.Fatal(d)
		}
	})
}
