package spring

import (
	"fmt"
	"math"
	"strings"

	"evenbeat/devices/quantity"
)

func percent(v quantity.Value) string { return v.Scale(100).Text("%") }

// told collects sentences, and of them those that a short answer tells too.
type told struct{ all, matter []string }

func (t *told) say(sentences ...string) { t.all = append(t.all, sentences...) }

// warn is say for what is amiss, or in doubt.
func (t *told) warn(sentences ...string) {
	t.say(sentences...)
	t.matter = append(t.matter, sentences...)
}

// reasons says in words of turns and hours what the verdict rests on.
func reasons(in Input, r Result) told {
	var t told
	t.warn(in.Unsure...)
	if tooHigh(in) {
		t.warn(fmt.Sprintf("The strip is %s high, and the barrel only %s deep inside: it does not go in.", in.Units.Length(*r.Height), in.Units.Length(*r.Depth)))
	}
	switch {
	case r.Fill == nil && in.Bore != nil && in.Arbor != nil:
		t.warn("The length of the strip isn't known yet, so how much it fills can't be told.")
	case r.Fill != nil:
		fillReason(&t, in, r)
	}
	t.say(turnsReasons(in, r)...)
	goingReasons(&t, in, r)
	strengthReasons(&t, in, r)
	compareLengths(&t, in, r)
	for _, d := range r.MonteCarlo {
		t.say(monteCarloReason(in, d))
	}
	for _, rule := range r.Rules {
		switch {
		case rule.Name == endFloat && tooHigh(in), rule.Value == nil: // the verdict tells it
		case rule.Held == Broken:
			t.warn(fmt.Sprintf("Out by a rule of the trade, %s: %s (%s).", rule.Title(), rule.Says, rule.Source))
		case rule.Held == Unclear:
			t.warn(fmt.Sprintf("Whether a rule of the trade holds can't be told from these measurements, %s: %s (%s).", rule.Title(), rule.Says, rule.Source))
		}
	}
	t.say(in.Notes...)
	return t
}

// monteCarloReason tells both intervals, so that a reader sees whether the first
// order was enough.
func monteCarloReason(in Input, d Drawn) string {
	per, unit, name := 1.0, "", d.Figure
	switch d.Figure {
	case "fill":
		per, unit = 0.01, " %"
	case "ideal_length_m":
		per, unit, name = 1e-3, " mm", "ideal length"
		if in.Units == quantity.Imperial {
			per, unit = quantity.Inch.Metres(), " in"
		}
	}
	return fmt.Sprintf("Monte Carlo, %d draws: %s from %s%s (95 %%), %.3g wide; to first order the interval is %.3g wide.",
		d.N, name, d.Interval(per), unit, (d.High95-d.Low95)/per, 2*d.First/per)
}

// fillReason tells the fill, which a short answer has among its figures, and what it
// means.
func fillReason(t *told, in Input, r Result) {
	means := ""
	switch limit, over := straddled(in, r); {
	case byFill(in, r) == DoesNotGo:
		means = "It is more than the whole space: it does not go in."
	case byFill(in, r) == Long && r.Fill.High95() >= 1:
		means = "It is far too long, and may not go in at all."
	case byFill(in, r) == Long:
		means = "It is too long: the coils take up the room to wind and to unwind, and turns are lost at both ends."
	case byFill(in, r) == Short:
		means = "It is too short to use all the turns that the barrel has room for."
	case over:
		means = fmt.Sprintf("The interval of the fill reaches over the limit of %g %%, so these measurements can't tell.", 100*limit)
	}
	t.say(strings.TrimSpace(fmt.Sprintf("The strip fills %s of the space between arbor and wall; half is ideal, and %g to %g %% fits. %s",
		percent(*r.Fill), 100*in.Limits.FillLow, 100*in.Limits.FillHigh, means)))
	if means != "" {
		t.matter = append(t.matter, means)
	}
}

// turnsReasons says how many turns there are, how many are lost, and whether the
// strip is longer or shorter than ideal.
func turnsReasons(in Input, r Result) []string {
	if r.Turns == nil || r.TurnsBest == nil || r.TurnsLost == nil {
		return nil
	}
	share := lostWords(*r.TurnsLost)
	text := fmt.Sprintf("It gives %s of the %s that are possible. Of these %s are lost", r.Turns.Text("turns"), r.TurnsBest.Plain("turns"), share)
	if in.BarrelTurnHours > 0 && in.Fusee == nil && share != "none" {
		lost := (r.TurnsBest.V - r.Turns.V) * in.BarrelTurnHours
		text += fmt.Sprintf(", which is %.2g h of going", max(lost, 0))
	}
	out := []string{text + "."}
	if r.Length == nil || r.IdealLength == nil {
		return out
	}
	side := "longer"
	if r.OverIdeal < 0 {
		side = "shorter"
	}
	if r.OverIdeal == 0 {
		return append(out, "As far as these measurements can tell, the length is ideal.")
	}
	return append(out, fmt.Sprintf("It is %s %s than ideal, which is %s.", in.Units.Size(math.Abs(r.OverIdeal), 0), side, in.Units.Length(*r.IdealLength)))
}

func lostWords(v quantity.Value) string {
	if v.High95() < 0.0005 {
		return "none"
	}
	return fmt.Sprintf("%.1f %% (at most %.1f %%)", 100*v.V, 100*min(v.High95(), 1))
}

func goingReasons(t *told, in Input, r Result) {
	if doubt := windingDoubt(in, r); doubt != "" {
		t.warn(doubt)
	}
	if r.GoingHours == nil {
		return
	}
	goes, arbor := r.GoingHours.Text("h"), "barrel"
	head := "It goes " + goes + " at most on one winding, with no turns set aside for packing and end coils"
	switch stop := in.Stop; {
	case in.Fusee != nil:
		arbor = "fusee"
		head = fmt.Sprintf("The chain takes %s round the fusee, so it goes %s on one winding", in.Fusee.Value().Text("turns"), goes)
	case stop != nil && in.SetUp != nil && stop.V < in.left(newBase(in), *r.Turns).V:
		head = fmt.Sprintf("The stopwork allows %s, after %s of set-up, so it goes %s on one winding", stop.Value().Text("turns"), in.SetUp.Value().Text("turns"), goes)
	case stop != nil && stop.V < in.left(newBase(in), *r.Turns).V:
		head = fmt.Sprintf("The stopwork allows %s, so it goes %s on one winding, from the middle of the spring's range", stop.Value().Text("turns"), goes)
	case in.SetUp != nil:
		head = fmt.Sprintf("It goes %s at most on one winding, since %s of set-up stay in the spring", goes, in.SetUp.Value().Text("turns"))
	case in.Limits.AllowanceTurns > 0:
		head = fmt.Sprintf("It goes %s on one winding, with %s set aside for packing and end coils (a setting)", goes, quantity.Turns(in.Limits.AllowanceTurns, -1))
	}
	t.say(head + fmt.Sprintf("; the %s makes 1 turn in %.4g h.", arbor, in.BarrelTurnHours))
	t.say(runReasons(r.Runs)...)
}

// windingDoubt tells of a spring that has too few turns for its stopwork or its chain,
// or may have; "" where it has enough.
func windingDoubt(in Input, r Result) string {
	lets := in.lets()
	if lets == nil || r.Turns == nil {
		return ""
	}
	left, wants, is := in.left(newBase(in), *r.Turns), lets.Value(), "the stopwork stops the winding"
	if lets == in.Chain {
		is = "the chain is all on the fusee"
	}
	has := fmt.Sprintf("it has %s for the run, and %s are wanted", left.Text("turns"), wants.Text("turns"))
	if in.SetUp != nil {
		has = "after its set-up " + has
	}
	if r.GoingHours != nil {
		has += ". So it goes " + r.GoingHours.Text("h") + " on one winding"
	}
	switch {
	case left.Low95() >= wants.High95():
		return ""
	case left.High95() < wants.Low95():
		return fmt.Sprintf("The spring is fully wound before %s: %s.", is, has)
	}
	return fmt.Sprintf("Whether %s before the spring is fully wound can't be told: %s.", is, has)
}

// runReasons names the longest run that is sure, and the next one that isn't.
func runReasons(runs []Run) []string {
	var out []string
	if run := sureRun(runs); run != nil {
		out = append(out, fmt.Sprintf("That is enough for %s: it takes %s and leaves %s to spare.", daysWords(run.Days), quantity.Turns(run.Turns, 4), run.Reserve.Text("turns")))
	}
	for _, run := range runs {
		switch {
		case run.sure():
			continue
		case run.Reserve.High95() >= 0:
			return append(out, fmt.Sprintf("Whether it lasts %s can't be told: that takes %s.", daysWords(run.Days), quantity.Turns(run.Turns, 4)))
		}
		return append(out, fmt.Sprintf("It does not last %s, which would take %s.", daysWords(run.Days), quantity.Turns(run.Turns, 4)))
	}
	return out
}

// sure tells that the turns are enough for the run.
func (r Run) sure() bool { return r.Reserve.Low95() >= 0 }

// sureRun returns the longest run that the turns are surely enough for, nil if none.
func sureRun(runs []Run) *Run {
	var longest *Run
	for i, run := range runs {
		if run.sure() {
			longest = &runs[i]
		}
	}
	return longest
}

// SureRun returns the longest of the usual runs that the spring surely gives, nil
// where there is none.
func (r Result) SureRun() *Run { return sureRun(r.Runs) }

func daysWords(d float64) string {
	if d == 1 {
		return "one day"
	}
	return fmt.Sprintf("%g days", d)
}

func strengthReasons(t *told, in Input, r Result) {
	if r.TorqueFull != nil {
		basis := "worked out from the run-down state: a spring that presses on the wall when run down has more"
		if in.FreeCoils != nil {
			basis = "worked out from the coils of the released spring"
		}
		t.say(fmt.Sprintf("Estimate: fully wound, the torque is %s and the energy %s, %s. Steel of modulus %.0f GPa is assumed.",
			r.TorqueFull.Text("N·m"), r.Energy.Text("J"), basis, in.Limits.Modulus/1e9),
			"At the last turn of the key on the barrel arbor expect that torque plus the friction of the coils.")
	}
	if r.TorqueRatio != nil {
		t.say(ratioReason(in, r))
	}
	if s, ok := restsEarly(in, r); ok {
		t.warn(s)
	}
	if r.Stress != nil {
		t.say(fmt.Sprintf("The nominal stress at the arbor is %.1f GPa, taking the strip as bent elastically from straight. A mainspring takes a set instead, so the figure only compares an old spring with a new one: it is never a verdict.", r.Stress.V/1e9))
	}
	if in.Torque != nil && r.TorqueFull != nil {
		t.warn(torqueReason(in, r))
	}
}

// ratioReason says how the torque falls over the run that runEnds takes.
func ratioReason(in Input, r Result) string {
	ratio := r.TorqueRatio.Text("times")
	if r.Turns != nil {
		top, bottom := runEnds(in, newBase(in).withRun(in).at())
		switch bounded := top < 1 || in.SetUp != nil && in.lets() != nil; {
		case bounded && in.lets() == in.Chain:
			return fmt.Sprintf("With the chain all on the fusee, the torque is %s what it is at the end of the run. The fusee has to even that out.", ratio)
		case bounded:
			return fmt.Sprintf("At the start of the run that the stopwork allows, the torque is %s what it is at the end.", ratio)
		case bottom > 0 && bottom*r.Turns.V <= newBase(in).withRun(in).at().setUp:
			return fmt.Sprintf("Fully wound, the torque is %s what it is with the set-up alone.", ratio)
		case bottom > 0:
			return fmt.Sprintf("At the start of a week the torque is %s what it is at the end.", ratio)
		}
	}
	return fmt.Sprintf("Fully wound, the torque is %s what it is run down.", ratio)
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
	return fmt.Sprintf("Released, the spring lies in %s coils, more than its %s run down against the wall: it has set so far that it drives nothing in its last %s.",
		free.Text(""), r.CoilsRundown.Text(""), quantity.Turns(over, 2)), true
}

// torqueReason holds the measured torque against the estimate.
func torqueReason(in Input, r Result) string {
	m := in.Torque.Value()
	ratio := m.V/r.TorqueFull.V - 1
	u := math.Hypot(m.Half95()/m.V, r.TorqueFull.Half95()/r.TorqueFull.V) * (1 + ratio)
	is := fmt.Sprintf("The torque measured fully wound is %s, the estimate %s", m.Text("N·m"), r.TorqueFull.Text("N·m"))
	switch {
	case math.Abs(ratio) <= u:
		return is + ": they agree."
	case ratio < 0:
		return is + fmt.Sprintf(": it is %.0f %% weaker than this strip should be. Look for a tired spring, or an end that has come off its hook.", -100*ratio)
	case in.FreeCoils == nil:
		return is + fmt.Sprintf(": it is %.0f %% more. The spring may press on the wall when run down; count the coils of the released spring to know.", 100*ratio)
	}
	return is + fmt.Sprintf(": it is %.0f %% stiffer than this strip should be. Look for dry coils, a bent arbor hook, a rubbing cover.", 100*ratio)
}
