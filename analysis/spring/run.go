package spring

import (
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// The inputs for the turns that are set up, and for those that stopwork or the chain's
// end let through after them.
const (
	setUp     = "set-up"
	barrelRun = "turns let through"
)

// going finds what the turns mean for the clock, if the train is known.
func (r *Result) going(in Input, b base) {
	if in.BarrelTurnHours == 0 || r.Turns == nil {
		return
	}
	use := in.usable(b, *r.Turns)
	r.GoingHours = &Estimate{use.Value.Scale(in.BarrelTurnHours), use.Bound}
	if use.Bound == "" {
		r.Runs = Runs(use.Value, in.BarrelTurnHours)
	}
}

// Runs compares turns with those that 1, 8, 14 and 30 days of going take, at so many hours
// a turn.
func Runs(turns quantity.Value, turnHours float64) []Run {
	var out []Run
	for _, days := range []float64{1, 8, 14, 30} {
		run := Run{Days: days, Turns: days * 24 / turnHours, Reserve: turns}
		run.Reserve.V -= run.Turns
		out = append(out, run)
	}
	return out
}

// usable returns the turns of the train's first arbor in one winding: the barrel's, or
// with a fusee the fusee's.
//
// Where the spring has fewer turns than the chain takes, the fusee can't be wound full.
// The chain goes on at the fusee's wide end first, where each turn takes the most of it.
// So the fusee's turns are then at most the share that the barrel's are of the chain's.
func (in Input) usable(b base, turns quantity.Value) Estimate {
	left := in.left(b, turns)
	if in.Stop != nil {
		left = lesser(left, in.Stop.Value())
	}
	if in.Fusee == nil {
		return Estimate{Value: left}
	}
	n := in.Fusee.Value()
	if in.Chain == nil {
		return Estimate{n, AtMost}
	}
	chain := in.Chain.Value()
	if left.Low95() >= chain.High95() {
		return Estimate{Value: n}
	}
	share := func(has, wants float64) float64 {
		if !(wants > has) {
			return 1
		}
		return max(0, has/wants)
	}
	most := spanning(n.V*share(left.V, chain.V), n.Low95()*share(left.Low95(), chain.High95()), n.High95()*share(left.High95(), chain.Low95()))
	return Estimate{most, AtMost}
}

// left returns the turns of the spring that are left for the run: those without the
// allowance and without what is set up.
func (in Input) left(b base, turns quantity.Value) quantity.Value {
	if in.SetUp != nil {
		v := b.and(setUp, in.SetUp).value("turns left", func(s sizes) float64 { return s.turns() - s.setUp })
		if v != nil {
			turns = *v
		}
	}
	turns.V = max(0, turns.V-in.Limits.AllowanceTurns)
	return turns
}

// withRun returns the base with the turns that bound a run.
func (b base) withRun(in Input) base { return b.and(setUp, in.SetUp).and(barrelRun, in.lets()) }

// lets returns the turns of the barrel that stopwork, or the chain's end, let through;
// nil where neither is known.
func (in Input) lets() *uncertainty.Quantity {
	if in.Chain != nil && (in.Stop == nil || in.Chain.V < in.Stop.V) {
		return in.Chain
	}
	return in.Stop
}

// lesser returns the lesser of two values. Where their intervals meet it may be either.
func lesser(a, b quantity.Value) quantity.Value {
	switch {
	case a.High95() < b.Low95():
		return a
	case b.High95() < a.Low95():
		return b
	}
	return spanning(min(a.V, b.V), min(a.Low95(), b.Low95()), min(a.High95(), b.High95()))
}

// spanning returns v with an interval that holds low and high.
func spanning(v, low, high float64) quantity.Value {
	return quantity.Value{V: v, U: max(high-v, v-low) / quantity.Normal95}
}
