package formats_test

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// samples returns bytes of each format, good and bad, to cut and to spoil.
func samples() map[string]string {
	return map[string]string{
		"air-text":       "21.4C 1013.2hPa 45%\r\nt=21.4 p=1013.2 h=45\nxx\ntemperature,time,humidity\n21.5,12:00,\n,12:01,46\n70.5F\n",
		"bits24-hex":     "0018CC\r\n10000A\r9A55AA\n600000\nxyz\n",
		"bits24-raw":     "\xcc\x18\x00",
		"byte-beats":     "T\r\nT\nT",
		"count-lines":    "1204311\r\n1704298,1\n2204290,0,41\r\n2704290,0,44\n99999999999999999999\n12,x\n,,\n",
		"digits52-hex":   "FFFF000634820\r\nFFFF800002541\rffff000063500\nFFFF0006348\nFFFF00063482060\n",
		"edge-beats":     "no bytes\r\nbelong here",
		"interval-lines": "499871\r\n500129\n\n-3\r1x\n",
		"nmea":           "$GPRMC,120000.00,A,4717.1,N,00833.9,E,0.0,0.0,010326,,*33\r\n$GPZDA,120000.00,01,03,2026,00,00*61\r\n$GPZDA,,,,,00,00*48\n$GPGGA,1*00\n",
		"polled-length":  "63.48\r63.48 mm\r",
		"text-force":     "12.5 N\r\n1.2kgf\n350 Nmm\n7\nxx\n",
		"text-length":    "63.48mm\r\n01A +2.499 in N\n-0.02\rmm 7,5\n6x\n" + strings.Repeat("9", 300) + "\n1mm",
		"utc-lines":      "1772366400.123456\r\n2026-03-01T12:00:00.5Z\n9223372036\nnow\n1.\n",
	}
}

func fresh(t testing.TB, name string) devices.Decoder {
	t.Helper()
	d, err := formats.New(name, formats.Options{Unit: quantity.Millimetre})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// whole decodes b as one chunk.
func whole(t testing.TB, name string, b []byte) []devices.Said {
	d := fresh(t, name)
	return d.Flush(d.Decode(nil, devices.Chunk{Bytes: b}))
}

// cut decodes b in pieces that seed tells.
func cut(t testing.TB, name string, b []byte, seed uint64) []devices.Said {
	d := fresh(t, name)
	rng := rand.New(rand.NewPCG(seed, 0))
	var got []devices.Said
	piece := make([]byte, 0, len(b)) // overwritten each time, as a port does
	for rest := b; len(rest) > 0; {
		n := 1 + rng.IntN(min(len(rest), 1+rng.IntN(len(rest))))
		piece = append(piece[:0], rest[:n]...)
		got, rest = d.Decode(got, devices.Chunk{Bytes: piece}), rest[n:]
		clear(piece)
	}
	return d.Flush(got)
}

func TestCutsDoNotMatter(t *testing.T) {
	for _, name := range formats.Names() {
		text := []byte(samples()[name])
		want := whole(t, name, text)
		if len(want) == 0 {
			t.Errorf("%s: nothing was said", name)
		}
		for seed := range uint64(200) { // the seed is all one needs to see a failure again
			if got := cut(t, name, text, seed); !slices.Equal(got, want) {
				t.Fatalf("%s, seed %d:\ngot  %v\nwant %v", name, seed, got, want)
			}
		}
	}
}

// accounted checks that each byte is in a reading, a fault or an end of line. Beats
// don't carry their text: for them the bytes are only counted as lines.
func accounted(t testing.TB, b []byte, said []devices.Said) {
	t.Helper()
	isEnd := func(c byte) bool { return c == '\r' || c == '\n' }
	want := slices.DeleteFunc(slices.Clone(b), isEnd)
	var got []byte
	for _, s := range said {
		if s.Kind != devices.KindFault {
			got = append(got, s.Text...)
		} else if raw, ok := lines.Unquote(s.Text); ok {
			got = append(got, raw...)
		}
	}
	if !bytes.Equal(got, want) {
		t.Fatalf("of %q only %q was accounted for", want, got)
	}
}

// TestFormatsSurviveNoise spoils the samples by flipped bits, dropped and doubled
// bytes. No decoder may panic, grow, or let the cut matter.
func TestFormatsSurviveNoise(t *testing.T) {
	for _, name := range formats.Names() {
		for seed := range uint64(500) {
			rng := rand.New(rand.NewPCG(seed, 7))
			text := spoil(rng, []byte(samples()[name]), 1+rng.IntN(8))
			check(t, name, text, seed)
		}
	}
}

func spoil(rng *rand.Rand, b []byte, times int) []byte {
	for range times {
		if len(b) < 2 {
			return b
		}
		i := rng.IntN(len(b))
		switch rng.IntN(3) {
		case 0:
			b[i] ^= 1 << rng.IntN(8)
		case 1:
			b = slices.Delete(b, i, i+1)
		case 2:
			b = slices.Insert(b, i, b[i])
		}
	}
	return b
}

// check asks of a decoder what must hold for any bytes.
func check(t testing.TB, name string, b []byte, seed uint64) {
	t.Helper()
	want := whole(t, name, b)
	if got := cut(t, name, b, seed); !slices.Equal(got, want) {
		t.Fatalf("%s, %q, seed %d:\ngot  %v\nwant %v", name, b, seed, got, want)
	}
	switch name {
	case "text-length", "polled-length", "text-force", "digits52-hex", "bits24-hex", "edge-beats":
		accounted(t, b, want)
	}
	for _, s := range want {
		if v := s.Reading.Value + s.Reading.Step + s.Air.PressureHPa + s.Air.TemperatureC + s.Air.HumidityPct; v-v != 0 {
			t.Fatalf("%s: %q gave %+v", name, b, s)
		}
	}
}

func fuzz(f *testing.F, name string) {
	f.Add([]byte(samples()[name]), uint64(1))
	f.Fuzz(func(t *testing.T, b []byte, seed uint64) { check(t, name, b, seed) })
}

func FuzzAirText(f *testing.F)       { fuzz(f, "air-text") }
func FuzzBits24Hex(f *testing.F)     { fuzz(f, "bits24-hex") }
func FuzzBits24Raw(f *testing.F)     { fuzz(f, "bits24-raw") }
func FuzzByteBeats(f *testing.F)     { fuzz(f, "byte-beats") }
func FuzzCountLines(f *testing.F)    { fuzz(f, "count-lines") }
func FuzzDigits52Hex(f *testing.F)   { fuzz(f, "digits52-hex") }
func FuzzEdgeBeats(f *testing.F)     { fuzz(f, "edge-beats") }
func FuzzIntervalLines(f *testing.F) { fuzz(f, "interval-lines") }
func FuzzNMEA(f *testing.F)          { fuzz(f, "nmea") }
func FuzzTextForce(f *testing.F)     { fuzz(f, "text-force") }
func FuzzTextLength(f *testing.F)    { fuzz(f, "text-length") }
func FuzzUTCLines(f *testing.F)      { fuzz(f, "utc-lines") }

func TestUnknownFormat(t *testing.T) {
	_, err := formats.New("text-lenght", formats.Options{})
	if err == nil || !strings.Contains(err.Error(), `"text-lenght" is not known: use one of air-text, `) {
		t.Errorf("got %v, want it to name those there are", err)
	}
}
