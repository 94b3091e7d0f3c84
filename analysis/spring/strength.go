package spring

import (
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// TorquePerRadian returns the stiffness of a flat spiral spring in N·m/rad:
// E·b·t³/(12·L), E its modulus in Pa, b its height, t its thickness and L its
// length in metres. Source: tokaibane.com and roymech.co.uk, flat spiral springs.
func TorquePerRadian(modulus, height, thickness, length float64) float64 {
	return modulus * height * thickness * thickness * thickness / (12 * length)
}

// Strength returns b·t³/L in m³: what the strength of two springs of like steel
// goes with, with no assumption about either.
func Strength(height, thickness, length float64) float64 {
	return height * thickness * thickness * thickness / length
}

// stress is nominal: a straight strip of steel bent elastically round the arbor,
// E·t/(d + t). Every mainspring takes a set long before.
func (b base) stress(l Limits) *quantity.Value {
	m := b.plus(uncertainty.Quantity{Name: "modulus", V: l.Modulus, Sources: []uncertainty.Source{{U: l.ModulusU, Cause: uncertainty.CauseAssumed}}})
	return m.whole("stress", func(s sizes, x []float64) float64 { return stress(x[0])(s) })
}

// strength reckons torque, energy and their course, for a strip of known height.
//
// The torque is E·b·t³·θ/(12L) with θ the angle wound: from the free form where the
// coils of the released spring were counted, else from the run-down state as though
// the spring were at rest there. A spring that presses on the wall when run down
// has some torque more all along, so without free coils the figures are at least.
func (r *Result) strength(in Input, b base) {
	if in.Height == nil {
		return
	}
	free := uncertainty.Exact("free coils", 0)
	if in.FreeCoils != nil {
		free = *in.FreeCoils
	}
	m := b.plus(
		uncertainty.Quantity{Name: "modulus", V: in.Limits.Modulus, Sources: []uncertainty.Source{{U: in.Limits.ModulusU, Cause: uncertainty.CauseAssumed}}},
		*in.Height, free)
	// rest is the number of coils at which the spring has no torque.
	rest := func(s sizes, x []float64) float64 {
		if in.FreeCoils != nil {
			return x[2]
		}
		return s.CoilsRundown(s.stripLength())
	}
	angle := func(coils float64) float64 { return 2 * math.Pi * coils }
	stiff := func(s sizes, x []float64) float64 { return TorquePerRadian(x[0], x[1], s.Strip, s.stripLength()) }
	full := func(s sizes, x []float64) float64 { return s.CoilsWound(s.stripLength()) - rest(s, x) }
	// A spring that has set so far that it no longer reaches the wall is at rest
	// before it is run down: from there on it drives nothing.
	low := func(s sizes, x []float64) float64 {
		return max(0, s.CoilsRundown(s.stripLength())-rest(s, x))
	}

	run := func(s sizes) (top, bottom float64) { return runEnds(in, s.Turns(s.stripLength())) }
	bottom := 0.0
	if r.Turns != nil {
		_, bottom = runEnds(in, r.Turns.V)
	}
	r.TorqueFull = m.whole("torque", func(s sizes, x []float64) float64 {
		return stiff(s, x) * angle(full(s, x))
	})
	r.Energy = m.whole("energy", func(s sizes, x []float64) float64 {
		a, z := angle(full(s, x)), angle(low(s, x))
		return stiff(s, x) * (a*a - z*z) / 2
	})
	if bottom <= 0 && in.FreeCoils == nil {
		return // no torque is known at the end of a run that goes to the wall
	}
	at := func(s sizes, x []float64, share float64) float64 {
		return stiff(s, x) * angle(low(s, x)+share*(full(s, x)-low(s, x)))
	}
	end := func(s sizes, x []float64) float64 { _, z := run(s); return at(s, x, z) }
	first := func(s sizes, x []float64) float64 { a, _ := run(s); return at(s, x, a) }
	r.TorqueEnd = m.whole("torque at the end", end)
	r.TorqueRatio = m.whole("ratio", func(s sizes, x []float64) float64 { return first(s, x) / end(s, x) })
}

// runEnds returns where in the spring's range a run begins and ends, as shares of
// the turns from run down (0) to full wind (1). With stopwork the turns are taken
// from the middle, else a run begins at full wind and ends a week of going later,
// or at the wall when the week is more than it has.
func runEnds(in Input, turns float64) (top, bottom float64) {
	if !(turns > 0) {
		return 1, 0
	}
	if s := in.StopTurns / turns; s > 0 && s < 1 {
		return (1 + s) / 2, (1 - s) / 2
	}
	if in.BarrelTurnHours > 0 {
		week := 7 * 24 / in.BarrelTurnHours
		return 1, max(0, 1-week/turns)
	}
	return 1, 0
}

// more is a base with further inputs that are no sizes of the barrel.
type more struct {
	base
	extra int
}

func (b base) plus(q ...uncertainty.Quantity) more {
	out := base{name: b.name, from: b.from, in: append([]uncertainty.Quantity(nil), b.in...)}
	out.in = append(out.in, q...)
	return more{out, len(b.in)}
}

// whole propagates a figure of the sizes and the further inputs x.
func (m more) whole(name string, f func(s sizes, x []float64) float64) *quantity.Value {
	q, err := uncertainty.Propagate(name, m.in, func(x []float64) float64 {
		return f(m.read(x[:m.extra]), x[m.extra:])
	})
	if err != nil {
		return nil
	}
	v := q.Value()
	return &v
}
