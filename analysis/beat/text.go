package beat

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
)

const (
	// evenEnough is the share of the interval up to which the half-difference of
	// tick and tock is left alone: a pendulum clock within a few per cent is in
	// beat by ear (common practice, no source).
	evenEnough = 0.02
	// crystalPPM is the limit of error of a quartz crystal, resonatorPPM that of a
	// ceramic one (common practice, no source).
	crystalPPM   = 50
	resonatorPPM = 5000
	ppmDay       = 86400 * 1e-6 // s/day for one part in a million
)

// write adds reasons, warnings and what to do next.
func (a *Analyser) write(r *Result, t findings) {
	r.Reasons = append(r.Reasons, sayRate(r.Rate.Value))
	a.sayEvenness(r)
	a.sayWheels(r, t)
	sayTooth(r)
	sayPeriods(r)
	sayShort(r, t)
	saySwing(r)
	a.sayTimeBase(r, t)
	a.sayHearing(r, t)
	sayWidth(r, t)
}

func sayRate(q quantity.Value) string {
	text := q.Signed("s/day")
	switch {
	case q.Covers(0):
		return fmt.Sprintf("The rate is %s (95 %%): whether the clock gains or loses can't be told yet.", text)
	case q.V > 0:
		return fmt.Sprintf("The clock gains: %s (95 %%).", text)
	}
	return fmt.Sprintf("The clock loses: %s (95 %%).", text)
}

func (a *Analyser) sayEvenness(r *Result) {
	ms := r.TickTock
	ms.V = math.Abs(ms.V)
	share := r.BeatError.V / r.IntervalS
	text := fmt.Sprintf("Tick and tock differ by %s (95 %%); half of that, %s ms, is the beat error, %.2g %% of the interval",
		ms.Scale(1e3).Text("ms"), r.BeatError.Scale(1e3).Plain("ms"), 100*share)
	switch low := (r.BeatError.V - r.BeatError.Half95()) / r.IntervalS; {
	case low > evenEnough:
		r.Reasons = append(r.Reasons, text+": the clock is out of beat.")
		r.Next = append(r.Next, "Set it in beat: shift the crutch (or the case) a little to one side and listen again. Which side can't be known from the beats alone, unless it is known which of them is the tick: if the difference grows, go the other way.")
	case share <= evenEnough:
		r.Reasons = append(r.Reasons, text+": in beat.")
	default:
		r.Reasons = append(r.Reasons, text+": whether it needs setting in beat can't be told yet.")
	}
}

func (a *Analyser) sayWheels(r *Result, t findings) {
	found := false
	for _, w := range r.Wheels {
		if !w.Significant {
			continue
		}
		found = true
		r.Reasons = append(r.Reasons, fmt.Sprintf("Beats come early and late by %s with each turn of the %s arbor (%.4g s).",
			w.Amplitude.Scale(1e3).Text("ms"), w.Name, w.PeriodS))
	}
	if found {
		r.Next = append(r.Next, "Look at the wheel named, the pinion on its arbor and the one it drives: runout, a bent arbor, a high or dirty tooth.")
	} else if len(r.Wheels) > 0 {
		r.Reasons = append(r.Reasons, fmt.Sprintf("No error repeats with the turns of %s that turned often enough to tell.",
			plural(len(r.Wheels), "the one arbor", fmt.Sprintf("the %d arbors", len(r.Wheels)))))
	}
	if len(r.Wheels) == len(a.o.Arbors) {
		return
	}
	// The quickest arbor that can't be told yet is the one worth waiting for.
	wait, name := math.Inf(1), ""
	for _, arbor := range a.o.Arbors {
		need := arbor.BeatsPerTurn * r.IntervalS * (periodic.LeastTurns + 0.5)
		if !has(r.Wheels, arbor.Index) && need > t.spanS && need < wait {
			wait, name = need, arbor.Name
		}
	}
	if wait < 12*3600 {
		r.Next = append(r.Next, fmt.Sprintf("An error of the %s arbor can be told after %s of listening.", name, span(wait)))
	}
}

func has(ws []Wheel, arbor int) bool {
	for _, w := range ws {
		if w.Arbor == arbor {
			return true
		}
	}
	return false
}

func (a *Analyser) sayTimeBase(r *Result, t findings) {
	b := t.base
	switch {
	case b.Source == timebase.SourceDevice && !a.o.Stamped:
		r.Warnings = append(r.Warnings, fmt.Sprintf("the device's count is taken for true time at %s counts a second, and its own error is not in the interval: a crystal may be off by ±%.1f s/day, a ceramic resonator by ±%.0f s/day",
			strconv.FormatFloat(a.o.CountRate, 'f', -1, 64), crystalPPM*ppmDay, resonatorPPM*ppmDay))
	case !b.Fitted && a.o.CountRate > 0:
		r.Warnings = append(r.Warnings, fmt.Sprintf("too little was heard to hold the device's count against the host's clock: its resonator may be off by ±%.0f s/day, and the interval holds that; a minute's listening settles it", resonatorPPM*ppmDay))
	case b.Source == timebase.SourceReference:
		r.Reasons = append(r.Reasons, fmt.Sprintf("By the time reference's %s the host's clock runs %s fast, which is taken out.", toldBy(b.ByPulse), b.HostPPM.Signed("ppm")))
	case !b.Host.Synced && b.Host.Known:
		r.Warnings = append(r.Warnings, fmt.Sprintf("the host's clock is not synchronised: its crystal is taken as good to ±%d ppm, ±%.1f s/day; switch on the system's time service for better", int(crystalPPM), crystalPPM*ppmDay))
	case !b.Host.Synced:
		r.Warnings = append(r.Warnings, fmt.Sprintf("whether the host's clock is synchronised is not known: its crystal is taken as good to ±%d ppm, ±%.1f s/day", int(crystalPPM), crystalPPM*ppmDay))
	}
	if b.Fitted {
		by := "host's clock"
		if b.Source == timebase.SourceReference {
			by = "time reference"
		}
		r.Reasons = append(r.Reasons, fmt.Sprintf("The device counts %s too fast by the %s, which is taken out.", b.OffsetPPM.Signed("ppm"), by))
	}
	sayQuarrel(r, t)
	if b.Steps > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the host's clock was stepped %s (%+.3g s in all); time is from its monotonic clock, which was not", times(b.Steps), b.StepSumS))
	}
	if t.tally.Breaks > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the count broke off %s (a counter that started anew, or a wrap that passed unseen): the run is cut there", times(t.tally.Breaks)))
	}
}

// From says where true time was taken from.
func (t TimeBase) From() string {
	switch t.Source {
	case timebase.SourceDevice:
		return "the sensor's own count, taken as it is"
	case timebase.SourceReference:
		return "a time reference, by its " + toldBy(t.ByPulse)
	case timebase.SourceHost:
		if t.HostSynchronised {
			return "this computer's clock, synchronised"
		}
		return "this computer's clock, not known to be synchronised"
	}
	return t.Source
}

// toldBy names by what a time reference told the time.
func toldBy(pulse bool) string {
	if pulse {
		return "pulses"
	}
	return "sentences"
}

// sayQuarrel tells where the time reference and the host's clock are farther apart
// than either allows.
func sayQuarrel(r *Result, t findings) {
	q, own := t.base.HostPPM, t.base.Host.RatePPM(t.spanS)
	if q.U == 0 || math.Abs(q.V) <= math.Hypot(q.Half95(), own.Half95()) {
		return
	}
	r.Warnings = append(r.Warnings, fmt.Sprintf("the host's clock and the time reference are %s apart, more than the host's clock is taken to be off (±%.2g ppm): see that the receiver has its time, and the host's time service the right one", q.Signed("ppm"), own.Half95()))
}

// sayHearing tells how sure the beats' numbers are.
func (a *Analyser) sayHearing(r *Result, t findings) {
	all := float64(r.Beats + r.Missed)
	scatter := t.tally.ScatterTicks * a.o.tickS() / r.IntervalS
	r.Reasons = append(r.Reasons, fmt.Sprintf("%d beats were heard, %d missed; %d events were no beats. A beat scatters by %.2g %% of the interval, so the numbers of the beats are %s.",
		r.Beats, r.Missed, r.Spurious, 100*scatter, sureness(scatter)))
	if float64(r.Missed) > 0.05*all {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%.0f %% of the beats were missed: move the sensor nearer or make it more sensitive", 100*float64(r.Missed)/all))
	}
	if float64(r.Spurious) > 0.05*all {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d events were no beats: echoes or knocks; make the sensor less sensitive or damp it", r.Spurious))
	}
	if r.Segments > 1 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the run is in %d pieces: %d or more beats in a row were not heard, or the clock was stopped; each piece counts from its own start, and the rate is common to all", r.Segments, numbering.LostAfter))
	}
	if n := a.sums.blocks.Dropped; n > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d beats in the shortest pieces are left out of the rate: the clock hardly ran on", n))
	}
}

func sureness(scatter float64) string {
	switch {
	case scatter < 0.05:
		return "certain"
	case scatter < 0.12:
		return "as good as certain"
	}
	return "in doubt"
}

// sayWidth tells what makes the interval as wide as it is, and what would narrow it.
func sayWidth(r *Result, t findings) {
	whole, beats := r.Rate.Value.Half95(), t.clock.Half95()
	s := t.line.Shares
	slowest, most := 0, s[0]
	for i, v := range s {
		if v > most {
			slowest, most = i, v
		}
	}
	switch {
	case beats < 0.7*whole:
		r.Reasons = append(r.Reasons, "The time base makes most of the interval, not the clock.")
	case slowest == 3:
		r.Reasons = append(r.Reasons, "The clock's own wandering makes most of the interval: it is for the mean over this run, and a longer one would be of another mean.")
	case slowest > 0:
		r.Reasons = append(r.Reasons, "Slow scatter of the beats makes most of the interval.")
	}
	for _, goal := range []float64{0.5, 0.2, 0.1, 0.05, 0.02} {
		if goal >= whole {
			continue
		}
		if more, ok := needed(goal, t); ok {
			r.Next = slices.Insert(r.Next, 0, fmt.Sprintf("%s more for ±%g s/day.", span(more), goal))
			return
		}
		break
	}
	if whole > 0.5 {
		r.Next = append(r.Next, "Longer listening will not narrow the rate to ±0.5 s/day: "+remedy(t))
	}
}

func remedy(t findings) string {
	if !t.base.Host.Synced && t.base.Source != timebase.SourceReference {
		return "synchronise the host's clock."
	}
	return "the clock itself wanders; see how it goes over days."
}

// needed returns how many seconds more of the same would narrow the interval to
// ± goal, up to a day. The slope's variance falls with the cube of the run's
// length for independent beats, with the square for flicker, with the length for
// independent intervals, and grows with it for a walking rate.
func needed(goal float64, t findings) (seconds float64, ok bool) {
	v := t.clock.Half95() * t.clock.Half95()
	s := t.line.Shares
	fit := t.base.OffsetPPM.Half95() * ppmDay
	byHost := t.base.Source == timebase.SourceHost
	if !t.base.Fitted && t.base.Source != timebase.SourceReference {
		fit = 0
	}
	own := 0.0
	if byHost {
		own = t.base.Host.RatePPM(t.spanS).Half95() * ppmDay
	}
	fit = math.Sqrt(math.Max(0, fit*fit-own*own))
	for by := 1.1; t.spanS*by < t.spanS+86400; by *= 1.1 {
		host := 0.0
		if byHost {
			host = t.base.Host.RatePPM(t.spanS*by).Half95() * ppmDay
		}
		beats := v * (s[0]/(by*by*by) + s[1]/(by*by) + s[2]/by + s[3]*by)
		if beats+fit*fit/(by*by)+host*host < goal*goal {
			return t.spanS * (by - 1), true
		}
	}
	return 0, false
}

// span writes a time to listen: whole minutes, or hours.
func span(seconds float64) string {
	d := time.Duration(math.Ceil(seconds/60)) * time.Minute
	switch {
	case d <= time.Minute:
		return "1 minute"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d minutes", int(d.Minutes()))
	}
	return fmt.Sprintf("%.0f hours", math.Ceil(d.Hours()))
}

// times writes how often.
func times(n int64) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// saySwing tells of the amplitude.
func saySwing(r *Result) {
	if r.Amplitude == nil {
		return
	}
	r.Reasons = append(r.Reasons, fmt.Sprintf("The pendulum swings %s to either side, by %d passes of the flag. By swinging so far it loses %s against a vanishing arc, and %s s/day more for each degree more.",
		r.Amplitude.Text("°"), r.Swing.Passes, r.CircularError.Text("s/day"), r.Swing.PerDegree.Scale(-1).Plain("s/day")))
	c := r.Swing.Change
	if c == nil {
		return
	}
	if math.Abs(c.V) <= c.Half95() {
		r.Reasons = append(r.Reasons, "The amplitude held steady over the run: it explains no change of rate.")
		return
	}
	word := "fell"
	if c.V > 0 {
		word = "grew"
	}
	size := *c
	size.V = math.Abs(size.V)
	r.Reasons = append(r.Reasons, fmt.Sprintf("The amplitude %s by %s over the run, which by the circular error alone changes the rate by %s from beginning to end; the escapement's own error comes on top.",
		word, size.Text("°"), r.Swing.Explains.Signed("s/day")))
}

// sayShort tells of a rate that wanders.
func sayShort(r *Result, t findings) {
	if !t.wanders || len(r.ShortTerm) < 4 {
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
	text := fmt.Sprintf("Taken by windows of %s the rate lay between %s and %s: it wanders by more than the scatter of the beats.",
		quantity.SpanText(length), low.Rate.Signed("s/day"), high.Rate.Signed("s/day"))
	for _, w := range r.Wheels {
		if w.Significant && w.PeriodS > length/4 {
			text += " The turns of the wheel named above are part of that."
			break
		}
	}
	r.Reasons = append(r.Reasons, text)
}

// sayPeriods tells what repeats.
func sayPeriods(r *Result) {
	for _, p := range r.Periods {
		text := fmt.Sprintf("Beats come early and late by %s every %s beats (%.4g s)", p.Amplitude.Scale(1e3).Text("ms"), p.Beats.Plain(""), p.PeriodS)
		if len(p.Explains) > 0 {
			text += ", as would: " + strings.Join(p.Explains, "; ")
		}
		r.Reasons = append(r.Reasons, text+".")
	}
	if len(r.Periods) > 0 {
		r.Next = append(r.Next, "Give the train (wheels over the pinions they drive): then it can be said which arbor's turns these are.")
	}
}

// CountedFrom says which tooth is the first: a break loses the place on the wheel, so
// that of several pieces the one of most turns alone is counted.
func (r Result) CountedFrom() string {
	if r.Segments > 1 {
		return "the first heard of the longest piece"
	}
	return "the first heard"
}

// sayTooth tells of the tooth.
func sayTooth(r *Result) {
	t := r.Tooth
	if t == nil || !t.Significant {
		return
	}
	late, way := t.Late, "late"
	if late.V < 0 {
		late.V, way = -late.V, "early"
	}
	by, from := late.Scale(1e3).Text("ms"), r.CountedFrom()
	switch t.Kind {
	case ToothUnheard:
		r.Reasons = append(r.Reasons, fmt.Sprintf("The beat of tooth %d of the escape wheel, counted from %s, is missed turn after turn.", t.Tooth, from))
		r.Next = append(r.Next, fmt.Sprintf("Look at tooth %d of the escape wheel: worn, broken or bent so that it drops without a sound.", t.Tooth))
		return
	case ToothWorst:
		r.Reasons = append(r.Reasons, fmt.Sprintf("The teeth of the escape wheel are uneven: the farthest off is tooth %d, counted from %s, %s by %s.", t.Tooth, from, way, by))
		return
	}
	text := fmt.Sprintf("One tooth of the escape wheel is off, the others are even: tooth %d, counted from %s, drops %s by %s", t.Tooth, from, way, by)
	if len(t.Beats) > 1 {
		between := (t.Beats[1] - t.Beats[0] + len(t.Residuals)) % len(t.Residuals)
		text += fmt.Sprintf(", at one pallet and %d beats later at the other", between)
	}
	text += "."
	if t.More > 0 {
		text += fmt.Sprintf(" %d more %s off.", t.More, plural(t.More, "beat of the turn lies", "beats of the turn lie"))
	}
	if t.Outlying {
		text += " It lies so far off that its beats are counted as missed and what was heard as spurious."
	}
	r.Reasons = append(r.Reasons, text)
	r.Next = append(r.Next, fmt.Sprintf("Look at tooth %d of the escape wheel: bent, worn or burred. Mark the tooth that drops as listening begins and count on from it.", t.Tooth))
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
