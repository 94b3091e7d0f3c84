package spring

import (
	"math"
	"slices"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// LengthFrom says what the length of the strip was taken from.
type LengthFrom string

// The ways to a length.
const (
	FromLength LengthFrom = "length"
	FromInner  LengthFrom = "inner"
	FromCoils  LengthFrom = "coils"
	FromNone   LengthFrom = ""
)

// ways are those to a length, the preferred first.
var ways = []LengthFrom{FromLength, FromInner, FromCoils}

// sizes are the inputs as bare numbers for the formulas.
type sizes struct {
	Barrel
	length, inner, coils       float64
	modulus, height, freeCoils float64
	pack                       float64 // pitch of the run-down coils over the strip's thickness
	setUp, run                 float64 // turns of the barrel: set up, and let through for a run
	from                       LengthFrom
}

// The figures. Each is a function of the measured sizes alone.

func (s sizes) stripLength() float64 {
	switch s.from {
	case FromInner:
		return s.LengthByInner(s.inner) / s.pack
	case FromCoils:
		return Barrel{Bore: s.Bore, Strip: s.Strip * s.pack}.LengthByCoils(s.coils)
	}
	return s.length
}

func (s sizes) halfArea() float64     { return s.Space() / 2 }
func (s sizes) fill() float64         { return s.Fill(s.stripLength()) }
func (s sizes) wound() float64        { return s.Wound(s.stripLength()) }
func (s sizes) rundown() float64      { return s.Rundown(s.stripLength()) }
func (s sizes) coilsWound() float64   { return s.CoilsWound(s.stripLength()) }
func (s sizes) coilsRundown() float64 { return s.CoilsRundown(s.stripLength()) }
func (s sizes) turns() float64        { return s.Turns(s.stripLength()) }
func (s sizes) turnsBest() float64    { return s.Turns(s.IdealLength()) }

// base holds the measured inputs. Every figure is a function of these, and not of other
// figures, so that errors cancel where they should: the fill by the inner diameter
// doesn't depend on the strip's thickness.
type base struct {
	in   []uncertainty.Quantity // by the names that read knows
	from LengthFrom
}

// newBase gathers the inputs for the way to the length that is used.
func newBase(in Input) base { return in.baseBy(in.from()) }

// baseBy gathers the inputs for one way to the length. Where the strip's thickness is
// not known any number will do, because only figures that don't depend on it are used.
func (in Input) baseBy(from LengthFrom) base {
	strip := in.Strip
	if strip == nil {
		stand := uncertainty.Exact("strip", (in.Bore.V-in.Arbor.V)/100)
		strip = &stand
	}
	b := base{from: from}.and("bore", in.Bore).and("arbor", in.Arbor).and("strip", strip).and(string(from), in.by(from))
	if from == FromInner || from == FromCoils {
		b = b.and(packing, coilPack())
	}
	return b
}

// packing is the input for what lies between the coils of a spring in its barrel.
const packing = "oil and air"

// coilPack is the pitch of the coils that lie run down against the wall, over the strip's
// thickness: oil and air between them make it more than 1, rust and burrs where the
// thickness is taken make it less. ±2 %: common practice, no source.
func coilPack() *uncertainty.Quantity {
	q := uncertainty.Limit(packing, 1, 0.02, packing, uncertainty.CauseAssumed)
	return &q
}

// by returns the measurement for a way to the length, nil if there is none.
func (in Input) by(from LengthFrom) *uncertainty.Quantity {
	switch from {
	case FromLength:
		return in.Length
	case FromInner:
		return in.Inner
	case FromCoils:
		return in.Coils
	}
	return nil
}

// and returns the base with one more input, if it is known.
func (b base) and(name string, q *uncertainty.Quantity) base {
	if q != nil {
		c := *q
		c.Name = name
		b.in = append(slices.Clip(b.in), c)
	}
	return b
}

// from says which of the ways to the length is used, see Prefer.
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
	for i, q := range b.in {
		switch q.Name {
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
		case "modulus":
			s.modulus = x[i]
		case "height":
			s.height = x[i]
		case packing:
			s.pack = x[i]
		case "free coils":
			s.freeCoils = x[i]
		case setUp:
			s.setUp = x[i]
		case barrelRun:
			s.run = x[i]
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

// value propagates a figure; nil when it has no finite value.
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
	out := base{in: slices.Clone(b.in), from: b.from}
	for i, q := range out.in {
		if q.Name == name {
			out.in[i] = uncertainty.Limit(name, q.V, a, "", uncertainty.CauseInstrument)
		}
	}
	return out
}

// lostValue is the share of the greatest turns that is lost. At half fill its derivative
// vanishes, so that its uncertainty to first order is zero. Its interval is therefore the
// widest that follows from the fill's own 95 % interval.
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
