package spring

import (
	"math"

	"evenbeat/analysis/uncertainty"
)

// TorquePerRadian returns the stiffness of a flat spiral spring in N·m/rad:
// E·b·t³/(12·L), E its modulus in Pa, b its height, t its thickness and L its
// length in metres. Source: tokaibane.com and roymech.co.uk, flat spiral springs.
func TorquePerRadian(modulus, height, thickness, length float64) float64 {
	return modulus * height * thickness * thickness * thickness / (12 * length)
}

// Strength returns b·t³/L in m³. The strength of springs of the same steel is proportional
// to it, without further assumptions.
func Strength(height, thickness, length float64) float64 {
	return height * thickness * thickness * thickness / length
}

// stress is nominal: a straight strip of steel bent elastically round the arbor,
// E·t/(d + t). Every mainspring takes a set long before.
func (s sizes) stress() float64 { return s.modulus * s.Strip / (s.Arbor + s.Strip) }

// modulusOf returns the modulus of the strip's steel.
func modulusOf(l Limits) *uncertainty.Quantity {
	return &uncertainty.Quantity{V: l.Modulus, Sources: []uncertainty.Source{{U: l.ModulusU, Cause: uncertainty.CauseAssumed}}}
}

// strength finds torque and energy over the run, for a strip of known height.
//
// The torque is E·b·t³·θ/(12L) with θ the angle wound: from the free form where the
// coils of the released spring were counted, else from the run-down state as though
// the spring were at rest there. A spring that presses on the wall when run down
// has some torque more all along, so without free coils torque and energy are at least
// these, and what the torque falls by is at most this.
func (r *Result) strength(in Input, b base) {
	if in.Height == nil {
		return
	}
	b = b.and("modulus", modulusOf(in.Limits)).and("height", in.Height).and("free coils", in.FreeCoils).withRun(in)
	// rest is the number of coils at which the spring has no torque.
	rest, least, most := sizes.coilsRundown, AtLeast, AtMost
	if in.FreeCoils != nil {
		least, most = "", ""
		rest = func(s sizes) float64 { return s.freeCoils }
	}
	angle := func(coils float64) float64 { return 2 * math.Pi * coils }
	stiff := func(s sizes) float64 { return TorquePerRadian(s.modulus, s.height, s.Strip, s.stripLength()) }
	full := func(s sizes) float64 { return s.coilsWound() - rest(s) }
	// A spring that has set so far that it no longer reaches the wall is at rest
	// before it is run down: from there on it drives nothing.
	low := func(s sizes) float64 { return max(0, s.coilsRundown()-rest(s)) }

	bottom := 0.0
	if r.Turns != nil {
		_, bottom = runEnds(in, b.at())
	}
	r.TorqueFull = bounded(b.value("torque", func(s sizes) float64 { return stiff(s) * angle(full(s)) }), least)
	r.Energy = bounded(b.value("energy", func(s sizes) float64 {
		a, z := angle(full(s)), angle(low(s))
		return stiff(s) * (a*a - z*z) / 2
	}), least)
	if bottom <= 0 && in.FreeCoils == nil {
		return // the torque at the wall is not known
	}
	at := func(s sizes, share float64) float64 {
		return stiff(s) * angle(low(s)+share*(full(s)-low(s)))
	}
	end := func(s sizes) float64 { _, z := runEnds(in, s); return at(s, z) }
	first := func(s sizes) float64 { a, _ := runEnds(in, s); return at(s, a) }
	r.TorqueEnd = bounded(b.value("torque at the end", end), least)
	r.TorqueRatio = bounded(b.value("ratio", func(s sizes) float64 { return first(s) / end(s) }), most)
}

// runEnds returns where in the spring's range a run begins and ends, as shares of the
// turns from run down (0) to full wind (1). Where stopwork or the chain let some turns
// through, these follow on those that are set up, or lie in the middle where nothing is
// known of a set-up. Else a run begins at full wind and ends a week of going later, or
// where the set-up or the wall ends it before.
func runEnds(in Input, s sizes) (top, bottom float64) {
	turns := s.turns()
	if !(turns > 0) {
		return 1, 0
	}
	set, run := min(1, s.setUp/turns), s.run/turns
	switch {
	case in.SetUp != nil && run > 0:
		return min(1, set+run), set
	case run > 0 && run < 1:
		return (1 + run) / 2, (1 - run) / 2
	case in.BarrelTurnHours > 0 && in.Fusee == nil:
		week := 7 * 24 / in.BarrelTurnHours
		return 1, max(set, 1-week/turns)
	}
	return 1, set
}
