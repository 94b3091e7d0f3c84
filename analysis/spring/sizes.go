package spring

import (
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// LengthFrom tells what the length of the strip was taken from.
type LengthFrom string

// The ways to a length.
const (
	FromLength LengthFrom = "length"
	FromInner  LengthFrom = "inner"
	FromCoils  LengthFrom = "coils"
	FromNone   LengthFrom = ""
)

// sizes are the inputs as bare numbers, as the sums take them.
type sizes struct {
	Barrel
	length, inner, coils float64
	from                 LengthFrom
}

func (s sizes) stripLength() float64 {
	switch s.from {
	case FromInner:
		return s.LengthByInner(s.inner)
	case FromCoils:
		return s.LengthByCoils(s.coils)
	}
	return s.length
}

// base holds the measured inputs that the sums rest on. Every figure is a function
// of these, and not of figures made of them, so that an error which cancels does
// so: the fill by the inner diameter needs no strip thickness.
type base struct {
	in   []uncertainty.Quantity
	name []string
	from LengthFrom
}

// newBase gathers the inputs. Where the strip's thickness is not known any number
// will do, for the figures that don't depend on it are the only ones asked.
func newBase(in Input) base {
	b := base{from: in.from()}
	add := func(name string, q *uncertainty.Quantity) {
		if q != nil {
			c := *q
			c.Name = name
			b.in = append(b.in, c)
			b.name = append(b.name, name)
		}
	}
	strip := in.Strip
	if strip == nil {
		stand := uncertainty.Exact("strip", (in.Bore.V-in.Arbor.V)/100)
		strip = &stand
	}
	add("bore", in.Bore)
	add("arbor", in.Arbor)
	add("strip", strip)
	switch b.from {
	case FromLength:
		add("length", in.Length)
	case FromInner:
		add("inner", in.Inner)
	case FromCoils:
		add("coils", in.Coils)
	}
	return b
}

// from says which of the ways to the length rules, see Prefer.
func (in Input) from() LengthFrom {
	switch {
	case in.Prefer == FromInner && in.Inner != nil:
		return FromInner
	case in.Prefer == FromCoils && in.Coils != nil && in.Strip != nil:
		return FromCoils
	case in.Length != nil && in.Strip != nil:
		return FromLength
	case in.Inner != nil:
		return FromInner
	case in.Coils != nil && in.Strip != nil:
		return FromCoils
	}
	return FromNone
}

func (b base) read(x []float64) sizes {
	s := sizes{from: b.from}
	for i, name := range b.name {
		switch name {
		case "bore":
			s.Bore = x[i]
		case "arbor":
			s.Arbor = x[i]
		case "strip":
			s.Strip = x[i]
		case "length":
			s.length = x[i]
		case "inner":
			s.inner = x[i]
		case "coils":
			s.coils = x[i]
		}
	}
	return s
}

func (b base) at() sizes {
	x := make([]float64, len(b.in))
	for i, q := range b.in {
		x[i] = q.V
	}
	return b.read(x)
}

func (b base) sum(f func(sizes) float64) func([]float64) float64 {
	return func(x []float64) float64 { return f(b.read(x)) }
}

// value propagates a figure; nil when it has no finite value here.
func (b base) value(name string, f func(sizes) float64) *quantity.Value {
	q, err := uncertainty.Propagate(name, b.in, b.sum(f))
	if err != nil {
		return nil
	}
	v := q.Value()
	if !v.Finite() {
		return nil
	}
	return &v
}

// with returns the base with one input's errors replaced by a limit ±a.
func (b base) with(name string, a float64) base {
	out := base{name: b.name, from: b.from, in: append([]uncertainty.Quantity(nil), b.in...)}
	for i := range out.in {
		if out.name[i] == name {
			out.in[i] = uncertainty.Limit(name, out.in[i].V, a, "", uncertainty.CauseInstrument)
		}
	}
	return out
}

// The figures. Each is a function of the measured sizes alone.

func halfArea(s sizes) float64    { return s.Space() / 2 }
func idealLength(s sizes) float64 { return s.IdealLength() }
func stripLength(s sizes) float64 { return s.stripLength() }
func fill(s sizes) float64        { return s.Fill(s.stripLength()) }
func wound(s sizes) float64       { return s.Wound(s.stripLength()) }
func rundown(s sizes) float64     { return s.Rundown(s.stripLength()) }
func turns(s sizes) float64       { return s.Turns(s.stripLength()) }
func turnsBest(s sizes) float64   { return s.Turns(s.IdealLength()) }
func stress(modulus float64) func(sizes) float64 {
	return func(s sizes) float64 { return modulus * s.Strip / (s.Arbor + s.Strip) }
}

// lostValue is the share of the greatest turns that is lost. At half fill its
// derivative vanishes, so that first order would claim to know it exactly: its
// interval is the widest that the fill's own 95 % interval makes.
func lostValue(b Barrel, f quantity.Value) quantity.Value {
	v := b.lost(f.V)
	h := max(math.Abs(b.lost(f.Low95())-v), math.Abs(b.lost(f.High95())-v), v-minLost(b, f))
	return quantity.Value{V: v, U: h / quantity.Normal95}
}

// minLost is the least loss within the fill's interval.
func minLost(b Barrel, f quantity.Value) float64 {
	if f.Low95() <= 0.5 && f.High95() >= 0.5 {
		return 0
	}
	return min(b.lost(f.Low95()), b.lost(f.High95()))
}
