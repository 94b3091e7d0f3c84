package caliper_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/caliper"
	"evenbeat/devices/quantity"
)

func decode(d devices.Decoder, s string) []devices.Said {
	return d.Flush(d.Decode(nil, devices.Chunk{Bytes: []byte(s)}))
}

func TestTextLength(t *testing.T) {
	for _, c := range []struct {
		line string
		unit quantity.Unit // of the profile
		want float64
		step float64
	}{
		{"63.48mm", 0, 0.06348, 1e-5},
		{"63,48 mm", 0, 0.06348, 1e-5},
		{"+63.48", quantity.Millimetre, 0.06348, 1e-5},
		{"-  0.02", quantity.Millimetre, -0.00002, 1e-5},
		{"01A+00.00", quantity.Millimetre, math.NaN(), 0}, // the identifier isn't set off
		{"01A +063.480 mm N", 0, 0.06348, 1e-6},
		{"1 63.48mm", 0, 0.06348, 1e-5},
		{"2.4990 in", 0, 0.0634746, 2.54e-6},
		{`2.4990"`, 0, 0.0634746, 2.54e-6},
		{"IN 2.4990", 0, 0.0634746, 2.54e-6},
		{"mm63.48", 0, 0.06348, 1e-5},
		{"22.0thou", 0, 0.0005588, 2.54e-6},
		{"  63.5\t", quantity.Millimetre, 0.0635, 1e-4},
		{"63.48mmN", 0, 0.06348, 1e-5},
		{"63.48 H", quantity.Millimetre, 0.06348, 1e-5},
		{"63.48mm", quantity.Inch, 0.06348, 1e-5}, // the line's unit wins
		{".5mm", 0, 0.0005, 1e-4},
		{"63 48mm", 0, math.NaN(), 0},
		{"63.4.8mm", 0, math.NaN(), 0},
		{"63.48mm in", 0, math.NaN(), 0},
		{"mm 63.48 mm", 0, math.NaN(), 0},
		{"63.48i", quantity.Millimetre, math.NaN(), 0}, // what noise left of an inch
		{"63.48m", quantity.Millimetre, math.NaN(), 0},
		{"63.48mm63.48mm", 0, math.NaN(), 0},
		{"mm", 0, math.NaN(), 0},
		{"+", quantity.Millimetre, math.NaN(), 0},
		{"1234567890123mm", 0, math.NaN(), 0},
		{"63.48mm\x00", 0, math.NaN(), 0},
		{"NaN", quantity.Millimetre, math.NaN(), 0},
		{"1e-3mm", 0, math.NaN(), 0},
	} {
		t.Run(c.line, func(t *testing.T) {
			got := decode(caliper.TextLength().New(c.unit), c.line+"\r\n")
			if len(got) != 1 {
				t.Fatalf("got %v, want one thing said", got)
			}
			g := got[0]
			if math.IsNaN(c.want) {
				if g.Kind != devices.KindFault || g.Fault != devices.FaultGarbage {
					t.Errorf("got %+v, want garbage", g)
				}
				return
			}
			if g.Kind != devices.KindReading || g.Text != c.line || g.Reading.Value != c.want || g.Reading.Step != c.step {
				t.Errorf("got %+v, want %v by steps of %v", g, c.want, c.step)
			}
		})
	}
}

func TestTextLengthWithoutUnit(t *testing.T) {
	got := decode(caliper.TextLength().New(quantity.NoUnit), "63.48\n")
	if len(got) != 1 || got[0].Fault != devices.FaultNoUnit || !strings.HasPrefix(got[0].Text, `"63.48": `) {
		t.Errorf("got %+v, want a fault that asks for the unit", got)
	}
}

func TestTextLengthOutOfRange(t *testing.T) {
	got := decode(caliper.TextLength().New(quantity.NoUnit), "10001000mm\n")
	if len(got) != 1 || got[0].Fault != devices.FaultRange || !strings.HasPrefix(got[0].Text, `"10001000mm": `) {
		t.Errorf("got %+v, want it out of range", got)
	}
}

// encodeText writes a length of so many steps of 10^-places in one of the forms
// that instruments send, and returns its value in metres. It shares nothing with
// the decoder.
func encodeText(rng *rand.Rand, profile float64) (string, float64) {
	pick := func(s ...string) string { return s[rng.IntN(len(s))] }
	places := rng.IntN(5)
	scale := math.Pow(10, float64(places))
	n := rng.IntN(300) * int(scale)
	n += rng.IntN(int(scale))
	number := fmt.Sprintf("%0*d", places+1, n)
	if places > 0 {
		number = number[:len(number)-places] + pick(".", ",") + number[len(number)-places:]
	}
	sign, factor := pick("", "+", "-", "+ "), 1.0
	if sign == "-" {
		factor = -1
	}
	size := map[string]float64{"mm": 0.001, "MM": 0.001, "in": 0.0254, "IN": 0.0254, `"`: 0.0254, "thou": 0.0000254, "": profile}
	unit := pick("mm", "MM", "in", "IN", `"`, "thou", "")
	line := sign + number
	if rng.IntN(3) == 0 {
		line = unit + pick("", " ") + line
	} else {
		line += pick("", " ", "\t") + unit
	}
	line = pick("", "01A ", "X\t", "GAUGE7  ", "3\t") + line
	if strings.HasPrefix(line, "3\t") && !strings.ContainsAny(line, "+-.,") {
		line = line[2:] // by digits alone it can't be told from half a number
	}
	if rng.IntN(3) == 0 {
		line += pick(" N", " a")
	}
	return pick("", "  ") + line + pick("\r", "\n", "\r\n"), factor * float64(n) / scale * size[unit]
}

func TestTextLengthConversations(t *testing.T) {
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 1))
		d := caliper.TextLength().New(quantity.Millimetre)
		var sent strings.Builder
		var want []float64
		for range 1 + rng.IntN(10) {
			line, v := encodeText(rng, 0.001)
			sent.WriteString(line)
			want = append(want, v)
		}
		got := decode(d, sent.String())
		if len(got) != len(want) {
			t.Fatalf("seed %d: %d things from %q, want %d: %+v", seed, len(got), sent.String(), len(want), got)
		}
		for i, g := range got {
			// Two roundings on the way make the difference in the last digit.
			if g.Kind != devices.KindReading || math.Abs(g.Reading.Value-want[i]) > 1e-15*math.Abs(want[i]) {
				t.Fatalf("seed %d: reading %d of %q is %+v, want %v", seed, i, sent.String(), g, want[i])
			}
		}
	}
}

// A line cut short, of which noise took a byte or to which it added one, is a
// fault or a length in the unit that was sent: inches are never taken for
// millimetres.
func TestTextLengthNoiseLeavesTheUnit(t *testing.T) {
	d := caliper.TextLength().New(quantity.Millimetre)
	line := "01A +2.4990in N\r\n"
	for i := range line {
		for _, damaged := range []string{line[:i] + line[i+1:], line[:i+1] + line[i:]} {
			for _, g := range decode(d, damaged) {
				if g.Kind == devices.KindReading && g.Reading.Unit != quantity.Inch {
					t.Errorf("%q: got %+v", damaged, g)
				}
			}
		}
	}
}
