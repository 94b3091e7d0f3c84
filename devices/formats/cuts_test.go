package formats_test

import (
	"bytes"
	"encoding/hex"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// whole decodes b as one chunk.
func whole(f devices.Format, b []byte) []devices.Said {
	return decode(f, quantity.Millimetre, devices.Chunk{Bytes: b})
}

// cut decodes chunks in pieces that seed tells, each with its chunk's stamp.
func cut(f devices.Format, unit quantity.Unit, seed uint64, chunks ...devices.Chunk) (got []devices.Said) {
	d := f.New(unit)
	rng := rand.New(rand.NewPCG(seed, 0))
	var piece []byte // overwritten each time, as a port does
	for _, c := range chunks {
		rest := c.Bytes
		for {
			n := 0
			if len(rest) > 0 {
				n = 1 + rng.IntN(min(len(rest), 1+rng.IntN(len(rest))))
			}
			piece = append(piece[:0], rest[:n]...)
			c.Bytes, rest = piece, rest[n:]
			got = d.Decode(got, c)
			clear(piece)
			if len(rest) == 0 {
				break
			}
		}
	}
	return d.Flush(got)
}

// The stamps are kept, since pauses part the frames of some formats.
func TestCutsDoNotMatter(t *testing.T) {
	for _, f := range formats.All() {
		for _, c := range conversations(t, f) {
			want := decode(f, c.unit, c.chunks...)
			if len(want) == 0 {
				t.Errorf("%s: nothing was said", c.file)
			}
			for seed := range uint64(200) { // the seed is all one needs to see a failure again
				if got := cut(f, c.unit, seed, c.chunks...); !slices.Equal(got, want) {
					t.Fatalf("%s, seed %d:\ngot  %v\nwant %v", c.file, seed, got, want)
				}
				check(t, f, c.bytes(), seed)
			}
		}
	}
}

// accounted checks that each byte is in what was said, or in the end of a line. Of a
// beat, which carries no text, that is the next line.
func accounted(t testing.TB, f devices.Format, b []byte, said []devices.Said) {
	t.Helper()
	inLines := len(whole(f, []byte("\r\n"))) == 0 // ends of lines say nothing by themselves
	rest := b
	skip := func() {
		for inLines && len(rest) > 0 {
			line, behind := nextLine(rest)
			silent := f.Silent != nil && len(behind) > 0 && len(line) <= lines.Max && f.Silent(line)
			if len(line) > 0 && !silent {
				return
			}
			rest = behind[min(1, len(behind)):]
		}
	}
	for _, s := range said {
		skip()
		raw, quoted := lines.Unquote(s.Text)
		switch {
		case s.Kind == devices.KindFault && !quoted: // such as numbers that are missing
			continue
		case s.Kind == devices.KindFault:
		case s.Kind == devices.KindBeat && s.Text == "":
			line, behind := nextLine(rest)
			ends := len(behind) - len(bytes.TrimLeft(behind, "\r\n"))
			raw = rest[:len(line)+ends]
		case inLines:
			raw = []byte(s.Text)
		default:
			var err error
			if raw, err = hex.DecodeString(strings.ReplaceAll(s.Text, " ", "")); err != nil {
				t.Fatalf("%s: %q is not in hexadecimal: %v", f.Name, s.Text, err)
			}
		}
		behind, ok := bytes.CutPrefix(rest, raw)
		if !ok || len(raw) == 0 {
			t.Fatalf("%s: of %q came %+v where %q was left", f.Name, b, s, rest)
		}
		rest = behind
	}
	if skip(); len(rest) > 0 {
		t.Fatalf("%s: of %q the last %q was lost: %+v", f.Name, b, rest, said)
	}
}

// nextLine returns what stands before the first end of a line, and the rest with it.
func nextLine(b []byte) (line, behind []byte) {
	i := bytes.IndexAny(b, "\r\n")
	if i < 0 {
		i = len(b)
	}
	return b[:i], b[i:]
}

// TestFormatsSurviveNoise spoils the conversations by flipped bits, dropped and
// doubled bytes. No decoder may panic, grow, lose a byte, or let the cut matter.
func TestFormatsSurviveNoise(t *testing.T) {
	for _, f := range formats.All() {
		for _, c := range conversations(t, f) {
			for seed := range uint64(500) {
				rng := rand.New(rand.NewPCG(seed, 7))
				check(t, f, spoil(rng, c.bytes(), 1+rng.IntN(8)), seed)
			}
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
func check(t testing.TB, f devices.Format, b []byte, seed uint64) {
	t.Helper()
	want := whole(f, b)
	if got := cut(f, quantity.Millimetre, seed, devices.Chunk{Bytes: b}); !slices.Equal(got, want) {
		t.Fatalf("%s, %q, seed %d:\ngot  %v\nwant %v", f.Name, b, seed, got, want)
	}
	accounted(t, f, b, want)
	for _, s := range want {
		if v := s.Reading.Value + s.Reading.Step + s.Air.PressureHPa + s.Air.TemperatureC + s.Air.HumidityPct; v-v != 0 {
			t.Fatalf("%s: %q gave %+v", f.Name, b, s)
		}
	}
}

// FuzzFormats looks further than the tests: format is a place in the table.
func FuzzFormats(f *testing.F) {
	all := formats.All()
	for i, format := range all {
		for _, c := range conversations(f, format) {
			f.Add(uint8(i), c.bytes(), uint64(1))
		}
	}
	f.Fuzz(func(t *testing.T, format uint8, b []byte, seed uint64) {
		check(t, all[int(format)%len(all)], b, seed)
	})
}

func TestUnknownFormat(t *testing.T) {
	_, err := formats.New("text-lenght", quantity.NoUnit)
	if err == nil || !strings.Contains(err.Error(), `"text-lenght" is not known: use one of air-text, `) {
		t.Errorf("got %v, want it to name those there are", err)
	}
}
