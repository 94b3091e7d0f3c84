//go:build unix

package recognise_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/creack/pty"

	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

// withParity returns s as 7 bits with parity, as a port set to 8 bits sees it.
func withParity(s, parity string) string {
	b := []byte(s)
	for i := range b {
		ones := 0
		for bit := range 7 {
			ones += int(b[i] >> bit & 1)
		}
		if parity == "mark" || parity == "even" && ones%2 == 1 || parity == "odd" && ones%2 == 0 {
			b[i] |= 0x80
		}
	}
	return string(b)
}

func frames(format string, arg ...any) []string {
	var out []string
	for _, a := range arg {
		out = append(out, fmt.Sprintf(format, a))
	}
	return out
}

// hear sends the frames, a second apart, through a pseudo-terminal and a port, and
// returns what is found after each.
func hear(t *testing.T, sent []string) []recognise.Finding {
	t.Helper()
	master, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	defer tty.Close()
	var now atomic.Int64
	p, err := port.Open(tty.Name(), port.Options{Now: func() devices.Stamp {
		return devices.Stamp{Mono: now.Load(), UTC: 1772366400e9 + now.Load()}
	}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	var r recognise.Recogniser
	var found []recognise.Finding
	got := ""
	send := func() {
		now.Add(1e9)
		if _, err := master.WriteString(sent[len(found)]); err != nil {
			t.Error(err)
			stop()
		}
	}
	send()
	err = p.Run(ctx, func(c devices.Chunk) error {
		r.Add(c)
		if got += string(c.Bytes); got != sent[len(found)] {
			return nil
		}
		got = ""
		// The pause behind a frame is told before the next.
		r.Add(devices.Chunk{At: devices.Stamp{Mono: now.Load() + 50e6, UTC: 1772366400e9 + now.Load() + 50e6}})
		if found = append(found, r.Finding()); len(found) == len(sent) {
			stop()
			return nil
		}
		send()
		return nil
	})
	if err != nil && !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	return found
}

func TestRecognise(t *testing.T) {
	for _, c := range []struct {
		format, parity string
		noUnit         bool
		frames         []string
	}{
		{"text-length", "none", false, frames("  %smm\r\n", "63.48", "63.51", "0.45")},
		{"text-length", "even", false, frames("%sin\r", "2.4990", "2.5005", "0.0180")},
		{"text-length", "mark", true, frames("01A +%s\r\n", "063.48", "063.51", "000.45")},
		{"text-length", "none", true, frames("%s\r\n", "63,48", "63,51", "0,45")},
		{"digits52-hex", "none", false, frames("FFFF0%s20\r\n", "016348", "006351", "000045")},
		{"digits52-hex", "odd", false, frames("FFFF0%s41\r", "024990", "025005", "000180")},
		{"bits24-hex", "none", false, frames("%06X\r\n", 6348, 6351, 45)},
		{"bits24-hex", "even", false, frames("%06x\r", 6348, 6351, 45)},
		{"bits24-raw", "none", false, []string{"\xcc\x18\x00", "\xcf\x18\x00", "\x2d\x00\x00"}},
		{"count-lines", "none", false, frames("%d\r\n", 4000000, 4500211, 5000205)},
		{"count-lines", "odd", false, frames("%d,1\r\n", 1204311, 1704298, 2204305)},
		{"interval-lines", "none", false, frames("%d\r\n", 999871, 1000129, 999869)},
		{"utc-lines", "none", false, frames("%s\r\n", "1772366400.12", "1772366401.12", "1772366402.12")},
		{"utc-lines", "mark", false, frames("2026-03-01T12:00:0%sZ\n", "0.123", "1.124", "2.122")},
		{"air-text", "none", false, frames("21.4C 1013.%dhPa 45%%\r\n", 2, 3, 3)},
		{"air-text", "even", false, frames("t=21.4 p=1013.%d h=45\n", 2, 3, 3)},
		{"text-force", "none", false, frames("%d.5 N\r\n", 12, 13, 11)},
		{"nmea", "none", false, []string{"$GPZDA,120000.00,01,03,2026,00,00*61\r\n"}},
		{"byte-beats", "none", false, frames("%s", "T", "T", "T", "T")}, // a byte says less than a line
		{"byte-beats", "none", false, frames("%s\r\n", "tick", "tick", "tick")},
	} {
		t.Run(c.format+" "+c.parity, func(t *testing.T) {
			sent := c.frames
			if c.parity != "none" {
				for i := range sent {
					sent[i] = withParity(sent[i], c.parity)
				}
			}
			found := hear(t, sent)
			last := found[len(found)-1]
			if last.State != recognise.Found {
				t.Fatalf("after %d frames: %+v, want it found", len(sent), last)
			}
			got := last.Candidates[0]
			if got.Format != c.format || got.Parity != c.parity || got.NeedsUnit != c.noUnit || (got.DataBits == 8) != (c.parity == "none") {
				t.Errorf("found %+v, want %s, parity %s, needs unit %v", got, c.format, c.parity, c.noUnit)
			}
			for i, f := range found {
				if f.State == recognise.Found && f.Candidates[0].Format != c.format {
					t.Errorf("after frame %d it was taken for %+v", i+1, f.Candidates[0])
				}
			}
		})
	}
}

func TestEdgesAreRecognised(t *testing.T) {
	var r recognise.Recogniser
	for i := range 3 {
		r.Add(devices.Chunk{At: devices.Stamp{Mono: int64(i) * 1e9}, Changed: devices.PinCTS, Pins: devices.Pins(i % 2)})
	}
	if f := r.Finding(); f.State != recognise.Found || f.Candidates[0].Format != "edge-beats" {
		t.Errorf("got %+v, want edge-beats", f)
	}
}

// A receiver of time gives a pulse besides its sentences. They are none of a beat
// sensor's, at the wrong baud rate either.
func TestPulseIsNotTakenForBeats(t *testing.T) {
	for sent, want := range map[string]string{"\x9f\xe6\x18\xfe\x9f\x18\xe6\x06\xfe\x98": "", "$GPZDA,120000.00,01,03,2026,00,00*61\r\n": "nmea"} {
		var r recognise.Recogniser
		for i := range int64(8) {
			for on, at := range []int64{200e6, 0} {
				r.Add(devices.Chunk{At: devices.Stamp{Mono: i*1e9 - at}, Changed: devices.PinDCD, Pins: devices.PinDCD * devices.Pins(on)})
			}
			r.Add(devices.Chunk{At: devices.Stamp{Mono: i*1e9 + 100e6}, Bytes: []byte(sent)})
			if f := r.Finding(); f.State == recognise.Found && f.Candidates[0].Format != want {
				t.Fatalf("%q in second %d: got %+v, want %q", sent, i, f, want)
			}
		}
		if f := r.Finding(); want != "" && (f.State != recognise.Found || f.Candidates[0].Format != want) {
			t.Errorf("%q: got %+v, want %s", sent, f, want)
		}
	}
}

// Six digits that rise evenly could be counts or lengths: one more reading tells.
func TestBetweenTwoFormats(t *testing.T) {
	var r recognise.Recogniser
	if r.Finding().State != recognise.Silent {
		t.Error("something was found in nothing")
	}
	add := func(line string) recognise.Finding {
		r.Add(devices.Chunk{At: devices.Stamp{UTC: 1772366400e9}, Bytes: []byte(line + "\n")})
		return r.Finding()
	}
	add("006348")
	add("006351")
	add("006354")
	if f := add("006357"); f.State != recognise.Between || len(f.Candidates) < 2 {
		t.Fatalf("got %+v, want it between counts and lengths", f)
	}
	if f := add("000500"); f.State != recognise.Found || f.Candidates[0].Format != "bits24-hex" {
		t.Errorf("got %+v, want bits24-hex", f)
	}
}

// A counter that wraps, misses a beat and hears an echo is still a counter.
func TestCountsOfARealClock(t *testing.T) {
	var r recognise.Recogniser
	for _, c := range []int64{4292000000, 4292500211, 4292512000, 4293000205, 4293500211, 4294500204, 33121, 533110, 1033122} {
		r.Add(devices.Chunk{Bytes: fmt.Appendf(nil, "%d\r\n", c)})
	}
	if f := r.Finding(); f.State != recognise.Found || f.Candidates[0].Format != "count-lines" {
		t.Errorf("got %+v, want count-lines", f)
	}
}

// A caliper heard at the wrong baud rate gives the same garbage at each press, and
// presses aren't as regular as beats.
func TestWrongBaudIsNoise(t *testing.T) {
	var r recognise.Recogniser
	for i, at := range []int64{0, 1300e6, 4000e6, 5100e6, 8000e6, 9900e6} {
		r.Add(devices.Chunk{At: devices.Stamp{Mono: at}, Bytes: []byte("\x00\x80\xf8\x00\xe0\x80\x1c\x00\xf8\x80\xe0\x00")})
		if f := r.Finding(); f.State == recognise.Found || f.State == recognise.Between {
			t.Fatalf("after %d presses: %+v", i+1, f)
		}
	}
	if f := r.Finding(); f.State != recognise.Noise {
		t.Errorf("got %+v, want noise", f)
	}
}

// noises are the kinds of noise: random bytes of any value, of seven bits, of the
// few values that a line gives at the wrong baud rate, lines of random digits, and
// lines of random characters such as lengths are written with.
func noises() map[string]string {
	var all, seven []byte
	for i := range 256 {
		all = append(all, byte(i))
	}
	seven = all[:128]
	return map[string]string{"bytes": string(all), "seven bits": string(seven), "wrong baud": "\x00\x80\xe0\xf8\xfe\xff\r\n",
		"digits": "0123456789\r\n", "text": "0123456789ABCDEF+-., mnix\r\n\""}
}

// falseLocks counts the streams of noise in which a format is found.
func falseLocks(alphabet string, streams uint64) (n int, last recognise.Finding) {
	for seed := range streams {
		rng := rand.New(rand.NewPCG(seed, 8))
		var r recognise.Recogniser
		at, rest := int64(0), rng.IntN(300)
		for rest > 0 {
			b := make([]byte, 1+rng.IntN(min(rest, []int{1, 3, 20, 300}[rng.IntN(4)])))
			for i := range b {
				b[i] = alphabet[rng.IntN(len(alphabet))]
			}
			r.Add(devices.Chunk{At: devices.Stamp{Mono: at, UTC: 1772366400e9 + at}, Bytes: b})
			rest -= len(b)
			at += rng.Int64N(2e9)
			if f := r.Finding(); f.State == recognise.Found || f.State == recognise.Between { // it may not lock even for a while
				n, last = n+1, f
				break
			}
		}
	}
	return n, last
}

// Each kind was run once over 10,000 streams, looked at after each chunk: none was
// taken for a format. Here the likeliest noise gets as many, the others fewer.
func TestNoFalseLock(t *testing.T) {
	for name, alphabet := range noises() {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			streams := uint64(1000)
			if name == "bytes" && !testing.Short() {
				streams = 10000
			}
			if n, f := falseLocks(alphabet, streams); n > 0 {
				t.Errorf("%d of %d streams of noise were taken for a format, the last for %+v", n, streams, f.Candidates)
			}
		})
	}
}

func TestFloodIsBounded(t *testing.T) {
	var r recognise.Recogniser
	for range 100 {
		r.Add(devices.Chunk{Bytes: []byte(strings.Repeat("63.48mm\r\n", 1000))})
	}
	if f := r.Finding(); f.State != recognise.Found || f.Candidates[0].Frames > 600 {
		t.Errorf("got %+v, want no more than 4096 bytes held", f)
	}
}

// Every speed that is tried is one that a port can be set to, and none comes twice.
func TestBaudsCanBeSet(t *testing.T) {
	seen := map[int]bool{}
	for _, b := range recognise.Bauds() {
		if err := (port.Settings{Baud: b}).Check(); err != nil || seen[b] {
			t.Errorf("baud %d: %v, twice %v", b, err, seen[b])
		}
		seen[b] = true
	}
	if !seen[300] || !seen[921600] {
		t.Error("the slowest or the fastest is missing")
	}
}
