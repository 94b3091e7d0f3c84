package spring

import "evenbeat/devices/quantity"

// going finds what the turns mean for the clock, if the train is known.
func (r *Result) going(in Input) {
	if in.BarrelTurnHours == 0 || r.Turns == nil {
		return
	}
	use := usable(in, *r)
	g := use.Scale(in.BarrelTurnHours)
	r.GoingHours = &g
	r.Runs = Runs(use, in.BarrelTurnHours)
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

// usable returns the turns that drive the clock: those without the allowance, and no more
// than stopwork lets through.
func usable(in Input, r Result) quantity.Value {
	use := *r.Turns
	use.V = max(0, use.V-in.Limits.AllowanceTurns)
	if in.StopTurns > 0 && in.StopTurns < use.V {
		return quantity.Value{V: in.StopTurns}
	}
	return use
}
