package spring

import "evenbeat/devices/quantity"

// going reckons what the turns mean for the clock, once the train is known: hours
// from full wind to stop, and the turns that 1, 8, 14 and 30 days take.
func (r *Result) going(in Input) {
	if in.BarrelTurnHours == 0 || r.Turns == nil {
		return
	}
	use := usable(in, *r)
	g := use.Scale(in.BarrelTurnHours)
	r.GoingHours = &g
	for _, days := range []float64{1, 8, 14, 30} {
		need := days * 24 / in.BarrelTurnHours
		reserve := use
		reserve.V -= need
		r.Runs = append(r.Runs, Run{Days: days, Turns: need, Reserve: reserve})
	}
}

// usable is the turns that drive the clock: all but the allowance, and no more than
// stopwork lets through.
func usable(in Input, r Result) quantity.Value {
	use := *r.Turns
	use.V = max(0, use.V-in.Limits.AllowanceTurns)
	if in.StopTurns > 0 && in.StopTurns < use.V {
		return quantity.Value{V: in.StopTurns}
	}
	return use
}
