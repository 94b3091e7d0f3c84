package spring

import (
	"fmt"
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// withStripByCoils returns the input with the strip's thickness from bore, inner diameter
// and number of coils, (D − Di)/(2n), where it wasn't measured.
func (in Input) withStripByCoils() Input {
	if in.Strip != nil || in.Bore == nil || in.Inner == nil || in.Coils == nil {
		return in
	}
	q, err := uncertainty.Propagate("strip", []uncertainty.Quantity{*in.Bore, *in.Inner, *in.Coils, *coilPack()},
		func(x []float64) float64 { return (x[0] - x[1]) / (2 * x[2] * x[3]) })
	if err == nil && q.V > 0 {
		in.Strip, in.stripByCoils = &q, true
	}
	return in
}

// inPlace returns the length by each way to it that the inputs allow: measured, by
// the inner diameter of the run-down coil, by the count of coils. It needs the
// strip's thickness.
func inPlace(in Input) []InPlace {
	if in.Strip == nil {
		return nil
	}
	var out []InPlace
	for _, way := range ways {
		if in.by(way) == nil || way == FromCoils && in.stripByCoils {
			continue
		}
		b := in.baseBy(way)
		l, f := b.value("length", sizes.stripLength), b.value("fill", sizes.fill)
		if l != nil && f != nil {
			out = append(out, InPlace{From: way, Length: *l, Fill: *f})
		}
	}
	return out
}

// twoWays are the lengths by two ways, and the first less the second.
type twoWays struct {
	a, b InPlace
	d    quantity.Value
}

func (w twoWays) agree() bool { return math.Abs(w.d.V) <= w.d.Half95() }

// lengthPairs compares the lengths by different ways with each other.
func lengthPairs(in Input, r Result) []twoWays {
	var out []twoWays
	for i, a := range r.InPlace {
		for _, b := range r.InPlace[i+1:] {
			if d := lengthDifference(in, a.From, b.From); d != nil {
				out = append(out, twoWays{a, b, *d})
			}
		}
	}
	return out
}

// compareLengths says whether the lengths by different ways agree within their common
// uncertainty, what a disagreement means, and which length is used.
func compareLengths(t *told, in Input, r Result) {
	for _, w := range lengthPairs(in, r) {
		pair := fmt.Sprintf("The length is %s %s and %s %s: ", in.Units.Length(w.a.Length), words(w.a.From), in.Units.Length(w.b.Length), words(w.b.From))
		switch {
		case w.agree():
			t.say(pair + "they agree within their uncertainty.")
		case w.a.From == FromLength && w.d.V < 0:
			t.warn(pair + "they disagree. The coil in the barrel looks longer than the strip is. Look for a set spring that doesn't lie against the wall, old oil between the coils, or a strip that is thinner where it was measured than elsewhere.")
		case w.a.From == FromLength:
			t.warn(pair + "they disagree. The coil in the barrel looks shorter than the strip is. Look for a strip of mixed thickness (measure at both ends and the middle), a part that is broken off inside, or coils miscounted.")
		default:
			t.warn(pair + "they disagree. The coils don't lie as close as the strip's thickness says. Look for old oil between them, or a kinked strip.")
		}
	}
	if r.LengthFrom == FromInner || r.LengthFrom == FromCoils {
		t.say("The length is that of the coil in the barrel. How close the coils lie is taken as good to ±2 %, for the oil and air between them (common practice, no source).")
	}
	if in.stripByCoils {
		t.say("The strip's thickness isn't measured: it is that of one coil, by bore, inner diameter and number of coils.")
	}
	if len(r.InPlace) < 2 {
		return
	}
	why := "."
	if in.Prefer == r.LengthFrom && in.Length != nil && in.Prefer != FromLength {
		why = ", since it was given."
	}
	t.say(fmt.Sprintf("Fill, turns and hours here rest on the length %s%s", words(r.LengthFrom), why))
}

func words(f LengthFrom) string {
	switch f {
	case FromInner:
		return "by the inner diameter"
	case FromCoils:
		return "by the count of coils"
	}
	return "as measured"
}

// lengthDifference is the first way's length less the second's; errors that both
// share, such as the strip's, enter once.
func lengthDifference(in Input, a, b LengthFrom) *quantity.Value {
	all := newBase(in)
	if all.from == FromLength {
		all = all.and(packing, coilPack())
	}
	for _, way := range ways {
		if way != all.from {
			all = all.and(string(way), in.by(way))
		}
	}
	by := func(s sizes, f LengthFrom) float64 {
		s.from = f
		return s.stripLength()
	}
	return all.value("difference of lengths", func(s sizes) float64 { return by(s, a) - by(s, b) })
}
