package beat

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/beat/rate"
	"evenbeat/devices/quantity"
)

func (a *Analyser) writeWheels(r *Result, f findings) {
	found := false
	for _, w := range r.Wheels {
		if w.Significant {
			found = true
			r.reason("The beats come early and late by %s with each turn of the %s arbor (%.4g s).", w.Amplitude.Scale(1e3).Text("ms"), w.Name, w.PeriodS)
		}
	}
	switch {
	case found:
		r.next("Look at the wheel with the periodic error, the pinion on its arbor and the one it drives: runout, a bent arbor, a high or dirty tooth.")
	case r.TrainTooth != nil:
	case len(r.Wheels) == 1:
		r.reason("No error repeats with the turns of the one arbor that turned often enough to tell.")
	case len(r.Wheels) > 0:
		r.reason("No error repeats with the turns of the %d arbors that turned often enough to tell.", len(r.Wheels))
	}
	// The quickest arbor that can't be told yet is the one worth waiting for.
	wait, name := math.Inf(1), ""
	for _, arbor := range a.o.Arbors {
		need := arbor.BeatsPerTurn * r.IntervalS * (periodic.LeastTurns + 0.5)
		told := slices.ContainsFunc(r.Wheels, func(w Wheel) bool { return w.Arbor == arbor.Index })
		if !told && need > f.spanS && need < wait {
			wait, name = need, arbor.Name
		}
	}
	if wait < 12*3600 {
		r.next("Listen for %s to see whether the %s arbor has a periodic error.", listening(wait), name)
	}
}

// CountedFrom says which tooth is the first: a break loses the place on the wheel, so
// that of several stretches the one of most turns alone is counted.
func (r Result) CountedFrom() string {
	if r.Segments > 1 {
		return "the first heard of the longest stretch"
	}
	return "the first heard"
}

func (r *Result) writeTooth() {
	t := r.Tooth
	if t == nil || !t.Significant {
		return
	}
	late, from := LateText(t.Late), r.CountedFrom()
	switch t.Kind {
	case ToothUnheard:
		r.reason("The beat of tooth %d of the escape wheel, counted from %s, is missed turn after turn.", t.Tooth, from)
		r.next("Look at tooth %d of the escape wheel: worn, broken or bent so that it drops without a sound.", t.Tooth)
		return
	case ToothWorst:
		r.reason("The teeth of the escape wheel are uneven: the farthest off is tooth %d, counted from %s, %s.", t.Tooth, from, late)
		return
	}
	text := fmt.Sprintf("One tooth of the escape wheel is off, the others are even: tooth %d, counted from %s, drops %s", t.Tooth, from, late)
	if len(t.Beats) > 1 {
		between := (t.Beats[1] - t.Beats[0] + len(t.Residuals)) % len(t.Residuals)
		text += fmt.Sprintf(", at one pallet and %d beats later at the other", between)
	}
	text += "."
	switch {
	case t.More == 1:
		text += " 1 more beat of the turn lies off."
	case t.More > 1:
		text += fmt.Sprintf(" %d more beats of the turn lie off.", t.More)
	}
	if t.Outlying {
		text += " It is so far off that its beats are left out of the rate."
	}
	r.reason("%s", text)
	r.next("Look at tooth %d of the escape wheel: bent, worn or burred. Mark the tooth that drops as listening begins and count on from it.", t.Tooth)
}

func (r *Result) writeTrainTooth() {
	t := r.TrainTooth
	if t == nil {
		return
	}
	r.reason("%d beats in each turn of the %s arbor come %s, at the same place in %d turns. They are left out of the rate.",
		t.Beats, t.Name, LateText(t.Late), t.Turns)
	r.next("Look at the wheel and the pinion on the %s arbor for a tooth or leaf that is bent, broken or burred, or dirt between two.", t.Name)
}

// LateText says by how much beats come late or early: "late by 8.0 ms".
func LateText(v quantity.Value) string {
	if v.V < 0 {
		return "early by " + v.Scale(-1e3).Text("ms")
	}
	return "late by " + v.Scale(1e3).Text("ms")
}

// leftOut tells, for behind the rate, which beats it leaves out turn after turn; "" for
// none.
func (r *Result) leftOut() string {
	switch t := r.Tooth; {
	case r.TrainTooth != nil:
		return fmt.Sprintf(" That leaves out %d beats in each turn of the %s arbor, which come %s.", r.TrainTooth.Beats, r.TrainTooth.Name, LateText(r.TrainTooth.Late))
	case t != nil && t.Significant && t.Kind == ToothBent && t.Outlying:
		return fmt.Sprintf(" That leaves out tooth %d of the escape wheel, which drops %s.", t.Tooth, LateText(t.Late))
	}
	return ""
}

func (r *Result) writePeriods() {
	for _, p := range r.Periods {
		text := fmt.Sprintf("The beats come early and late by %s every %s beats (%.4g s).", p.Amplitude.Scale(1e3).Text("ms"), p.Beats.Plain(""), p.PeriodS)
		if len(p.Explains) > 0 {
			text += " That fits " + strings.Join(p.Explains, "; ") + "."
		}
		r.reason("%s", text)
	}
	if len(r.Periods) > 0 {
		r.next("Give the train, wheels over the pinions they drive, to learn which arbor turns in that time.")
	}
}

// writeWandering tells of a rate that wanders over short windows.
func (r *Result) writeWandering(f findings) {
	if !f.wanders || len(r.ShortTerm) < 4 {
		return
	}
	low, high := r.ShortTerm[0], r.ShortTerm[0]
	for _, s := range r.ShortTerm {
		if s.Rate.V < low.Rate.V {
			low = s
		}
		if s.Rate.V > high.Rate.V {
			high = s
		}
	}
	length := r.ShortTerm[0].SpanS
	text := fmt.Sprintf("Over windows of %s the rate ranged from %s to %s: it wanders by more than the scatter of the beats.",
		quantity.SpanText(length), low.Rate.Signed("s/day"), high.Rate.Signed("s/day"))
	if slices.ContainsFunc(r.Wheels, func(w Wheel) bool { return w.Significant && w.PeriodS > length/4 }) {
		text += " The periodic error named above is part of that."
	}
	r.reason("%s", text)
}

// course tells how a walking rate went, by the means of four quarters of the run, so that
// its mean isn't taken for a state; "" where it held.
func (r *Result) course(f findings) string {
	n := len(r.ShortTerm) / 4
	if !f.wanders || n == 0 || f.line.Shares[rate.RateWalk] < 0.5 {
		return ""
	}
	var quarters [4]float64
	for i := range quarters {
		for _, w := range r.ShortTerm[len(r.ShortTerm)*i/4:][:n] {
			quarters[i] += w.Rate.V / float64(n)
		}
	}
	low, high := slices.Min(quarters[:]), slices.Max(quarters[:])
	from, to := low, high
	if slices.Index(quarters[:], high) < slices.Index(quarters[:], low) {
		from, to = high, low
	}
	half := r.ShortTerm[0].Rate.Half95() / math.Sqrt(float64(n))
	if high-low < 2*math.Sqrt2*half {
		return ""
	}
	say := func(v float64) string { return quantity.Value{V: v, U: half / quantity.Normal95}.Signed("s/day") }
	return fmt.Sprintf(" That is the mean of the run: quarter by quarter it went from %s to %s.", say(from), say(to))
}

func (r *Result) writeAmplitude() {
	if r.Amplitude == nil {
		return
	}
	r.reason("The pendulum swings %s to either side, from %d passes of the flag. Its circular error loses %s compared with a very small arc, and another %s s/day for each degree more.",
		r.Amplitude.Text("°"), r.AmplitudeEffect.Passes, r.CircularError.Text("s/day"), r.AmplitudeEffect.PerDegree.Scale(-1).Plain("s/day"))
	c := r.AmplitudeEffect.Change
	if c == nil {
		return
	}
	if math.Abs(c.V) <= c.Half95() {
		r.reason("The amplitude held steady over the run: it explains no change of rate.")
		return
	}
	way, size := "grew", *c
	if c.V < 0 {
		way, size.V = "fell", -c.V
	}
	r.reason("The amplitude %s by %s over the run. By the circular error alone that changes the rate by %s from beginning to end; the escapement's own error comes on top.",
		way, size.Text("°"), r.AmplitudeEffect.Explains.Signed("s/day"))
}
