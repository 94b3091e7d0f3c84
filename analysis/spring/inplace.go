package spring

import (
	"fmt"
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// inPlace returns the length by each way to it that the inputs allow: measured, by
// the inner diameter of the run-down coil, by the count of coils. It needs the
// strip's thickness.
func inPlace(in Input) []InPlace {
	if in.Strip == nil {
		return nil
	}
	var out []InPlace
	for _, one := range in.ways() {
		b := newBase(one)
		l, f := b.value("length", stripLength), b.value("fill", fill)
		if l != nil && f != nil {
			out = append(out, InPlace{From: b.from, Length: *l, Fill: *f})
		}
	}
	return out
}

// ways returns the input as it would be with one way to the length alone.
func (in Input) ways() []Input {
	var out []Input
	for _, w := range []struct{ length, inner, coils *uncertainty.Quantity }{
		{length: in.Length}, {inner: in.Inner}, {coils: in.Coils},
	} {
		if w.length == nil && w.inner == nil && w.coils == nil {
			continue
		}
		one := in
		one.Prefer = FromNone
		one.Length, one.Inner, one.Coils = w.length, w.inner, w.coils
		out = append(out, one)
	}
	return out
}

// compareLengths says whether the lengths by different ways agree within their
// common uncertainty, and what a disagreement means.
func compareLengths(in Input, r Result) []string {
	var out []string
	for i, a := range r.InPlace {
		for _, b := range r.InPlace[i+1:] {
			d := lengthDifference(in, a.From, b.From)
			if d == nil {
				continue
			}
			pair := fmt.Sprintf("length %s, %s, and %s, %s", words(a.From), in.Units.Length(a.Length), words(b.From), in.Units.Length(b.Length))
			switch {
			case math.Abs(d.V) <= d.Half95():
				out = append(out, pair+", agree within what is known of both.")
			case a.From == FromLength && d.V < 0:
				out = append(out, pair+", disagree: the coil in the barrel looks longer than the strip is. A set spring that doesn't lie against the wall, or old oil between the coils, does that; or the strip is thinner where it was measured than elsewhere.")
			case a.From == FromLength:
				out = append(out, pair+", disagree: the coil in the barrel looks shorter than the strip is. Look for a strip of mixed thickness (measure at both ends and the middle), a part that is broken off inside, or coils miscounted.")
			default:
				out = append(out, pair+", disagree: the coils don't lie as close as the strip's thickness has it. Old oil between them, or a kinked strip, does that.")
			}
		}
	}
	return out
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
	for _, extra := range []struct {
		from LengthFrom
		name string
		q    *uncertainty.Quantity
	}{{FromLength, "length", in.Length}, {FromInner, "inner", in.Inner}, {FromCoils, "coils", in.Coils}} {
		if extra.q != nil && all.from != extra.from {
			q := *extra.q
			q.Name = extra.name
			all.in, all.name = append(all.in, q), append(all.name, extra.name)
		}
	}
	by := func(s sizes, f LengthFrom) float64 {
		s.from = f
		return s.stripLength()
	}
	return all.value("difference of lengths", func(s sizes) float64 { return by(s, a) - by(s, b) })
}
