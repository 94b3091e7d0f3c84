package beat

import (
	"fmt"
	"math"
	"slices"
	"time"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/beat/rate"
	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
)

// many is the share of the beats from which on those that came off, were missed or have
// spurious events beside them ask for a better place or setting of the sensor.
const many = 0.05

// write puts the findings into words: reasons, warnings and what to do next.
func (a *Analyser) write(r *Result, f findings) {
	r.Course = r.course(f) + r.leftOut()
	r.reason("%s%s", rateText(r.Rate.Value), r.Course)
	a.writeEvenness(r, f)
	a.writeWheels(r, f)
	r.writeTooth()
	r.writeTrainTooth()
	r.writePeriods()
	r.writeWandering(f)
	r.writeAmplitude()
	a.writeTimeBase(r, f)
	a.writeHearing(r, f)
	r.writeUncertainty(f)
}

func (r *Result) reason(format string, args ...any) {
	r.Reasons = append(r.Reasons, fmt.Sprintf(format, args...))
}

func (r *Result) warn(format string, args ...any) {
	r.Warnings = append(r.Warnings, fmt.Sprintf(format, args...))
}

func (r *Result) next(format string, args ...any) {
	r.Next = append(r.Next, fmt.Sprintf(format, args...))
}

func rateText(q quantity.Value) string {
	switch {
	case q.Covers(0):
		return fmt.Sprintf("The rate is %s: too small to tell yet whether the clock gains or loses.", q.Signed("s/day"))
	case q.V > 0:
		return fmt.Sprintf("The clock gains %s.", q.Text("s/day"))
	}
	return fmt.Sprintf("The clock loses %s.", q.Scale(-1).Text("s/day"))
}

// writeHearing tells how sure the beats' numbers are.
func (a *Analyser) writeHearing(r *Result, f findings) {
	all := float64(r.Beats + r.Missed)
	scatter := f.tally.ScatterTicks * a.o.tickS() / r.IntervalS
	sure := "in doubt"
	switch {
	case scatter < 0.05:
		sure = "certain"
	case scatter < 0.12:
		sure = "almost certain"
	}
	r.reason("%d beats were heard and %d missed; %d %s spurious. The beats scatter by %.2g %% of the interval, so their count is %s.",
		r.Beats, r.Missed, r.Spurious, quantity.Plural(r.Spurious, "event was", "events were"), 100*scatter, sure)
	if r.Late+r.Early > 0 {
		r.reason("Of the beats heard, %d came late and %d early by more than the others scatter: they are left out of the rate.", r.Late, r.Early)
	}
	if off := float64(r.Late + r.Early); off > many*all && r.TrainTooth == nil {
		r.warn("%.0f %% of the beats came late or early: set the sensor's trigger level so that it always catches the same sound of a beat, and look at the drop of the teeth", 100*off/all)
	}
	unheard := r.Missed
	if a.sums.blocks.OneSided() {
		unheard -= r.Beats // the other side
	}
	missed, spurious := float64(unheard) > many*all, float64(r.Spurious) > many*all
	switch {
	case missed && spurious:
		r.warn("%.0f %% of the beats were missed, and %d events were spurious, echoes or knocks: move the sensor nearer to the escapement, and away from what rings or is knocked", 100*float64(r.Missed)/all, r.Spurious)
	case missed:
		r.warn("%.0f %% of the beats were missed: move the sensor nearer or make it more sensitive", 100*float64(r.Missed)/all)
	case spurious:
		r.warn("%d events were spurious, echoes or knocks: make the sensor less sensitive or damp it", r.Spurious)
	}
	if r.Segments-1 > f.sensor.Times {
		r.warn("the run is in %d stretches: between them %d or more beats in a row went unheard, or the clock was stopped; each stretch is counted from its own start, and one rate is fitted to all", r.Segments, numbering.LostAfter)
	}
	if n := a.sums.blocks.Dropped; n > 0 {
		r.warn("%d beats in the shortest stretches are left out of the rate: the clock hardly ran between the breaks", n)
	}
}

// Counts tells how many beats came late or early and were missed, and how many events
// were spurious: "2 late, 1 missed, 0 spurious".
func (r Result) Counts() string {
	text := fmt.Sprintf("%d missed, %d spurious", r.Missed, r.Spurious)
	if r.Early > 0 {
		text = fmt.Sprintf("%d early, ", r.Early) + text
	}
	if r.Late > 0 {
		text = fmt.Sprintf("%d late, ", r.Late) + text
	}
	return text
}

// wanted is the half-width, s/day, beyond which the rate is hardly of use for regulating
// (common practice, no source).
const wanted = 0.5

// writeUncertainty tells where most of the uncertainty comes from, and what would
// reduce it.
func (r *Result) writeUncertainty(f findings) {
	whole := r.Rate.Half95()
	most := 0
	for kind, share := range f.line.Shares {
		if share > f.line.Shares[most] {
			most = kind
		}
	}
	switch {
	case f.clock.Half95() < 0.7*whole:
		r.reason("Most of the uncertainty comes from the time base, not from the clock.")
	case most == rate.RateWalk:
		r.reason("Most of the uncertainty comes from the clock's own wandering: the rate is the mean of this run, and another run would have another mean.")
	case most != rate.WhitePhase:
		r.reason("Most of the uncertainty comes from slow scatter of the beats.")
	}
	goals := []float64{wanted, 0.2, 0.1, 0.05, 0.02}
	if i := slices.IndexFunc(goals, func(goal float64) bool { return goal < whole }); i >= 0 {
		if more, ok := f.needed(goals[i]); ok {
			r.Next = slices.Insert(r.Next, 0, fmt.Sprintf("Listen %s longer for ±%g s/day.", listening(more), goals[i]))
			return
		}
	}
	if whole <= wanted {
		return
	}
	r.next("Longer listening will not bring the rate to ±%g s/day: %s", wanted, f.remedy())
}

// needed returns how many seconds more of the same would narrow the interval to
// ± goal, up to a day. The slope's variance falls with the cube of the run's
// length for independent beats, with the square for flicker, with the length for
// independent intervals, and grows with it for a walking rate.
func (f findings) needed(goal float64) (seconds float64, ok bool) {
	v := f.clock.Half95() * f.clock.Half95()
	s := f.line.Shares
	host := func(seconds float64) float64 {
		if f.base.Source != timebase.SourceHost {
			return 0
		}
		return f.base.Host.RatePPM(seconds).Half95() * ppmDay
	}
	fit := 0.0
	if f.base.Fitted || f.base.Source == timebase.SourceReference {
		fit = f.base.OffsetPPM.Half95() * ppmDay
	}
	own := host(f.spanS)
	fit = math.Sqrt(math.Max(0, fit*fit-own*own))
	for by := 1.1; f.spanS*by < f.spanS+24*3600; by *= 1.1 {
		h := host(f.spanS * by)
		beats := v * (s[rate.WhitePhase]/(by*by*by) + s[rate.FlickerPhase]/(by*by) + s[rate.WhiteFrequency]/by + s[rate.RateWalk]*by)
		if beats+fit*fit/(by*by)+h*h < goal*goal {
			return f.spanS * (by - 1), true
		}
	}
	return 0, false
}

// listening writes a time to listen: whole minutes, or hours.
func listening(seconds float64) string {
	d := time.Duration(math.Ceil(seconds/60)) * time.Minute
	switch {
	case d <= time.Minute:
		return "1 minute"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d minutes", int(d.Minutes()))
	}
	return fmt.Sprintf("%.0f hours", math.Ceil(d.Hours()))
}
