package spring

import (
	"fmt"
	"math"

	"evenbeat/devices/quantity"
)

func percent(v quantity.Value) string { return v.Scale(100).Text("%") }

// reasons says in words of turns and hours what the verdict rests on.
func reasons(in Input, r Result) []string {
	var out []string
	if tooHigh(r) {
		out = append(out, fmt.Sprintf("The strip is %s high and the barrel %s deep inside: it does not go in.", in.Units.Length(*r.Height), in.Units.Length(*r.Depth)))
	}
	if r.Fill != nil {
		out = append(out, fillReason(in, r))
		out = append(out, turnsReasons(in, r)...)
	}
	if r.Fill == nil && in.Bore != nil && in.Arbor != nil {
		out = append(out, "How much strip there is isn't known yet, so there is no fill and no verdict.")
	}
	out = append(out, goingReasons(in, r)...)
	out = append(out, strengthReasons(in, r)...)
	out = append(out, compareLengths(in, r)...)
	for _, d := range r.MonteCarlo {
		out = append(out, monteCarloReason(in, d))
	}
	for _, rule := range r.Rules {
		if rule.Held == Broken || rule.Held == Unclear {
			out = append(out, fmt.Sprintf("Rule of the trade, %s: %s. %s (%s).", rule.Name, heldWords(rule), rule.Says, rule.Source))
		}
	}
	return append(out, in.Notes...)
}

// monteCarloReason tells both intervals, so that a reader sees whether the first
// order was enough.
func monteCarloReason(in Input, d Drawn) string {
	per, unit, name := 1.0, "", d.Figure
	switch d.Figure {
	case "fill":
		per, unit = 0.01, " %"
	case "ideal_length_m":
		per, unit, name = 1e-3, " mm", "best length"
		if in.Units == quantity.Imperial {
			per, unit = quantity.Inch.Metres(), " in"
		}
	}
	return fmt.Sprintf("Monte Carlo, %d draws: %s from %.4g to %.4g%s (95 %%), %.3g wide; to first order it is %.3g wide.",
		d.N, name, d.Low95/per, d.High95/per, unit, (d.High95-d.Low95)/per, 2*d.First/per)
}

func heldWords(r Rule) string {
	if r.Held == Broken {
		return "not kept"
	}
	return "can't be told from these measurements"
}

func fillReason(in Input, r Result) string {
	low, high := 100*in.Limits.FillLow, 100*in.Limits.FillHigh
	is := fmt.Sprintf("The strip fills %s of the space between arbor and wall (95 %% interval); half is best, and %g to %g %% fits", percent(*r.Fill), low, high)
	switch limit, over := straddled(in, r); {
	case r.Verdict == DoesNotGo && !tooHigh(r):
		return is + ". It is more than the whole space: it does not go in."
	case r.Verdict == Long && r.Fill.High95() >= 1:
		return is + ". It is far too much, and may not go in at all."
	case r.Verdict == Long:
		return is + ". It is too long: wound coils and run-down coils crowd each other, and turns are lost at both ends."
	case r.Verdict == Short:
		return is + ". It is too short: there is room for turns that it doesn't have."
	case over:
		return is + fmt.Sprintf(". The interval reaches over the limit of %g %%, so these measurements can't tell.", 100*limit)
	}
	return is + "."
}

// turnsReasons says how many turns there are, how many are lost, and to which side
// the length leans.
func turnsReasons(in Input, r Result) []string {
	if r.Turns == nil || r.TurnsBest == nil || r.TurnsLost == nil {
		return nil
	}
	out := []string{fmt.Sprintf("It gives %s turns; the best length would give %.3f, so %s of them are lost.",
		r.Turns.Text(""), r.TurnsBest.V, lostWords(*r.TurnsLost))}
	if in.BarrelTurnHours > 0 {
		lost := (r.TurnsBest.V - r.Turns.V) * in.BarrelTurnHours
		out[0] = out[0][:len(out[0])-1] + fmt.Sprintf(", %.2g h of going.", max(lost, 0))
	}
	if r.Length == nil || r.IdealLength == nil {
		return out
	}
	d := r.Length.V - r.IdealLength.V
	side := "longer"
	if d < 0 {
		side = "shorter"
	}
	if r.Fill.Covers(0.5) {
		return append(out, "Within what is known, its length is the best one.")
	}
	return append(out, fmt.Sprintf("It leans to one side: %s %s than the best length of %s.",
		in.Units.Size(math.Abs(d), 0), side, in.Units.Length(*r.IdealLength)))
}

func lostWords(v quantity.Value) string {
	if v.High95() < 0.0005 {
		return "none"
	}
	return fmt.Sprintf("%.1f %% (at most %.1f %%)", 100*v.V, 100*min(v.High95(), 1))
}

func goingReasons(in Input, r Result) []string {
	if r.GoingHours == nil {
		return nil
	}
	var out []string
	head := "It goes at most " + r.GoingHours.Text("h") + " on one winding, with nothing taken off for packing and end coils"
	switch {
	case in.StopTurns > 0 && in.StopTurns < r.Turns.V:
		head = fmt.Sprintf("Stopwork lets %s through, so it goes %s on one winding, from the middle of the spring's range", quantity.Turns(in.StopTurns, -1), r.GoingHours.Text("h"))
	case in.Limits.AllowanceTurns > 0:
		head = fmt.Sprintf("It goes %s on one winding, with %s taken off for packing and end coils (a setting)", r.GoingHours.Text("h"), quantity.Turns(in.Limits.AllowanceTurns, -1))
	}
	out = append(out, head+fmt.Sprintf("; a turn is %.4g h.", in.BarrelTurnHours))
	return append(out, runReasons(r.Runs)...)
}

// runReasons names the longest run that is sure, and the next one that isn't.
func runReasons(runs []Run) []string {
	var sure, beyond string
	for _, run := range runs {
		if run.Reserve.Low95() >= 0 {
			sure = fmt.Sprintf("That is enough for %s: %s, %s to spare.", daysWords(run.Days), quantity.Turns(run.Turns, 4), run.Reserve.Text(""))
			continue
		}
		beyond = fmt.Sprintf("A run of %s would take %s, which it doesn't have.", daysWords(run.Days), quantity.Turns(run.Turns, 4))
		if run.Reserve.High95() >= 0 {
			beyond = fmt.Sprintf("Whether it lasts %s can't be told: that takes %s.", daysWords(run.Days), quantity.Turns(run.Turns, 4))
		}
		break
	}
	var out []string
	for _, s := range []string{sure, beyond} {
		if s != "" {
			out = append(out, s)
		}
	}
	return out
}

func daysWords(d float64) string {
	if d == 1 {
		return "one day"
	}
	return fmt.Sprintf("%g days", d)
}

func strengthReasons(in Input, r Result) []string {
	var out []string
	if r.TorqueFull != nil {
		basis := "reckoned from the run-down state, so at least: a spring that presses on the wall when run down has more"
		if in.FreeCoils != nil {
			basis = "reckoned from the coils of the released spring"
		}
		out = append(out, fmt.Sprintf("Estimate: torque at full wind %s, energy %s, %s. Steel of modulus %.0f GPa is assumed.",
			r.TorqueFull.Text("N·m"), r.Energy.Text("J"), basis, in.Limits.Modulus/1e9))
	}
	if r.TorqueFull != nil {
		out = append(out, "With the key on the barrel arbor, expect about that torque at its last turn, and the friction of the coils besides.")
	}
	if r.TorqueRatio != nil {
		out = append(out, ratioReason(in, r))
	}
	if s, ok := restsEarly(in, r); ok {
		out = append(out, s)
	}
	if r.Stress != nil {
		out = append(out, fmt.Sprintf("Nominal stress at the arbor %.1f GPa, as though the strip bent elastically from straight: several times what steel bears, since every mainspring takes a set. It compares old and new, and is never a verdict.", r.Stress.V/1e9))
	}
	if in.Torque != nil && r.TorqueFull != nil {
		out = append(out, torqueReason(in, r))
	}
	return out
}

// ratioReason says how the torque falls over the run that runEnds takes.
func ratioReason(in Input, r Result) string {
	ratio := r.TorqueRatio.Text("")
	if r.Turns != nil {
		switch top, bottom := runEnds(in, r.Turns.V); {
		case top < 1:
			return fmt.Sprintf("At the start of the run that the stopwork lets through the torque is %s times what it is at the end.", ratio)
		case bottom > 0:
			return fmt.Sprintf("At the start of a week the torque is %s times what it is at the end.", ratio)
		}
	}
	return fmt.Sprintf("At full wind the torque is %s times what it is run down.", ratio)
}

// restsEarly tells of a spring that has opened so little that it comes to rest
// before its coils lie against the wall.
func restsEarly(in Input, r Result) (string, bool) {
	if in.FreeCoils == nil || r.CoilsRundown == nil {
		return "", false
	}
	free := in.FreeCoils.Value()
	over := free.V - r.CoilsRundown.V
	if over <= math.Hypot(free.Half95(), r.CoilsRundown.Half95()) {
		return "", false
	}
	return fmt.Sprintf("Released, the spring lies in %s coils, more than the %s that it has run down against the wall: it has set so far that it drives nothing in its last %s.",
		free.Text(""), r.CoilsRundown.Text(""), quantity.Turns(over, 2)), true
}

// torqueReason holds the measured torque against the estimate.
func torqueReason(in Input, r Result) string {
	m := in.Torque.Value()
	ratio := m.V/r.TorqueFull.V - 1
	u := math.Hypot(m.Half95()/m.V, r.TorqueFull.Half95()/r.TorqueFull.V) * (1 + ratio)
	is := fmt.Sprintf("Measured torque at full wind, %s, against the estimate, %s", m.Text("N·m"), r.TorqueFull.Text("N·m"))
	switch {
	case math.Abs(ratio) <= u:
		return is + ": the strip explains it."
	case ratio < 0:
		return is + fmt.Sprintf(": it winds %.0f %% softer than this strip explains. Look for a tired spring, or an end that has come off its hook.", -100*ratio)
	case in.FreeCoils == nil:
		return is + fmt.Sprintf(": %.0f %% more. Pressure on the wall when run down may be the reason; count the coils of the released spring to know.", 100*ratio)
	}
	return is + fmt.Sprintf(": it winds %.0f %% harder than this strip explains. Look for dry coils, a bent arbor hook, a rubbing cover.", 100*ratio)
}
