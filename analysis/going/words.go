package going

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// capital returns the text with its first letter made capital; ASCII only.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// Was says that an event of a kind befell the clock, which is called by subject: "it was moved".
func Was(subject, kind string) string {
	if kind == sessions.EventReplaced {
		return "a part was replaced"
	}
	return subject + " was " + kind
}

// say adds reasons, each once.
func (r *Result) say(why ...string) {
	for _, w := range why {
		if w != "" && !slices.Contains(r.Reasons, w) {
			r.Reasons = append(r.Reasons, w)
		}
	}
}

// warn is say for what is amiss with the record.
func (r *Result) warn(why string) {
	r.say(why)
	if !slices.Contains(r.Matters, why) {
		r.Matters = append(r.Matters, why)
	}
}

func (r *Result) then(next string) { r.Next = append(r.Next, next) }

// sayTooFew says what is missing for a rate.
func (in In) sayTooFew(r *Result, tl *timeline, days float64) {
	switch {
	case len(tl.points) == 0:
		r.say("No comparison of the dial with a reference is recorded.")
		r.then("Compare the dial with a good reference, record it with `evenbeat check`, and again about a day later: the two give a rate.")
	case tl.checks-len(tl.doubts) < 2:
		last := r.ErrorNow
		r.say(fmt.Sprintf("One comparison: the dial was %s on %s. A rate needs two.", fastOrSlow(*last), in.when(tl.at(tl.points[len(tl.points)-1].t))))
		r.then("Record a second check in about a day, without touching the hands between.")
	case days > 0:
		r.say(fmt.Sprintf("Between the checks lie only %s of going: no rate can be told from less than %s.", span(days), span(leastSpan)))
		r.then("Record another check in about a day, without touching the hands between.")
	case r.SpanDays == 0:
		r.say("All checks are of one time: a rate needs another.")
		r.then("Record another check in about a day, without touching the hands between.")
	default:
		r.say("Between any two checks the hands were set by an unknown amount, or the clock had stopped: there is no rate yet.")
		r.then("Record two checks about a day apart without touching the hands between; when you set them, note their error before and after.")
	}
	in.sayDoubts(r, tl)
}

// fastOrSlow writes an error of the dial as it is said.
func fastOrSlow(v quantity.Value) string {
	word := "fast"
	if v.V < 0 {
		word, v.V = "slow", -v.V
	}
	return v.DialText(quantity.Value.Text) + " " + word
}

// sayRate says first how the clock goes since it was last touched: the mean over all
// is of rates that it never went at.
func (in In) sayRate(r *Result, tl *timeline, days float64) {
	last := tl.points[len(tl.points)-1]
	total := last.t - tl.points[0].t
	mean := "Over " + span(days) + " the clock " + r.MeanRate.GainText("gained", "lost") + "."
	switch {
	case tl.touched != "":
		r.warn(fmt.Sprintf("%s after the last check: how it goes now isn't known yet.", capital(Was("the clock", tl.touched))))
		r.say(mean)
	case r.RateNow == nil && len(tl.acts) > 0:
		a := tl.acts[len(tl.acts)-1]
		r.warn(fmt.Sprintf("How the clock goes since %s on %s isn't known yet: the checks since then are too close together.", Was("it", a.kind), in.when(tl.at(a.t))))
		r.say(mean)
	case len(tl.acts) > 0:
		now, by := r.Segments[len(r.Segments)-1], ""
		if now.From.Sub(now.AfterAt) >= time.Hour {
			by = ", by the checks from " + in.when(now.From) + " on"
		}
		r.say(fmt.Sprintf("Since %s on %s the clock %s%s.", Was("it", now.After), in.when(now.AfterAt), now.Rate.GainText("gains", "loses"), by), mean)
	default:
		r.say(mean)
	}
	r.say(fmt.Sprintf("On %s the dial was %s.", in.when(tl.at(last.t)), fastOrSlow(*r.ErrorNow)))
	if days < 0.999*total {
		r.warn(fmt.Sprintf("Of the %s from first to last check only %s count: in the rest the hands were set by an unknown amount, the clock had stopped, or it was worked on.", span(total), span(days)))
	}
	if tl.assumed > 0 {
		r.say(fmt.Sprintf("Checks without a stated uncertainty (%d) are taken as good to ±0.5 s.", tl.assumed))
	}
	for _, at := range tl.unsaid {
		r.warn(fmt.Sprintf("The clock stopped on %s and no start is noted: it is taken as going again from the next check.", in.when(at)))
	}
	in.sayDoubts(r, tl)
	for _, why := range in.strays(tl) {
		r.warn(why)
	}
	if f := r.Forecast; f != nil && tl.touched == "" {
		r.say(fmt.Sprintf("If nothing is touched its error should be %s a week after the last check, with the clock's own wandering included.", f.DialText(quantity.Value.Signed)))
	}
}

// sayDoubts names the checks that are left out, and where the dial jumped.
func (in In) sayDoubts(r *Result, tl *timeline) {
	for _, d := range tl.doubts {
		r.warn(fmt.Sprintf("The check of %s is %s It is left out until another confirms it; if it was misread, take it back with `evenbeat undo check %d`.", in.when(d.At), d.Asks(), d.Check))
	}
	for _, d := range tl.jumps {
		r.warn(fmt.Sprintf("From %s on the dial is %s from the forecast, and goes on from there: the hands were moved, or the dial is read differently, as after a change to or from summer time. No rate is taken across that.", in.when(d.At), d.far()))
	}
}

func span(days float64) string {
	if days < 2 {
		return quantity.SpanWords(days * 86400)
	}
	return fmt.Sprintf("%.1f days", days)
}

func (in In) sayTrend(r *Result, p *posterior) {
	if p.obs.enough() {
		r.say(fmt.Sprintf("Left alone, the clock wanders by about %.2g s in a day.", p.daily()))
	}
	switch t := r.Trend; {
	case t == nil:
	case t.Covers(0):
		r.say(fmt.Sprintf("No steady change of the rate can be told from the clock's wandering: the trend is %s per day.", t.Signed("s/day")))
	default:
		word := "rises"
		if t.V < 0 {
			word = "falls"
		}
		r.say(fmt.Sprintf("The rate %s steadily, by %s per day.", word, t.Signed("s/day")))
	}
	for i, s := range r.Segments {
		if s.After != "" && (i+1 < len(r.Segments) || r.RateNow == nil) { // the last is said first of all
			r.say(fmt.Sprintf("After %s on %s the rate was %s.", Was("it", s.After), in.when(s.AfterAt), s.Rate.Signed("s/day")))
		}
	}
}

// enough reports whether the record says something of the wandering.
func (o *observations) enough() bool { return len(o.rows) >= len(o.priors)+5 }

// threeMonths is in days.
const threeMonths = 91

// sayNut puts the advice for a rate into words. Where the winding shows, that is the rate
// from winding to winding, and a turn is judged by it.
func sayNut(r *Result, rate quantity.Value, windingShows bool) {
	if r.Nut.Advice == nil {
		return
	}
	a := *r.Nut.Advice
	which, judge := "Its rate now", "after two days"
	if windingShows {
		which, judge = "Its rate from winding to winding", "from one winding to the next, since it changes as the spring runs down"
	}
	size := quantity.Value{V: math.Abs(a.V), U: a.U, K: a.K}
	switch {
	case a.Covers(0):
		r.say(fmt.Sprintf("Leave the nut: the turn that would bring the rate to zero, %s, can't be told from none, with the clock's wandering over a week included.", a.Signed("turns")))
		return
	case size.V < leastTurn:
		r.say(fmt.Sprintf("Not worth turning the nut: %s would bring the rate to zero, which is finer than a hand can set. %s, %s, is real all the same: over three months it comes to %s.",
			size.Text("turns"), which, rate.Signed("s/day"), rate.Scale(threeMonths).Signed("s")))
		return
	}
	r.say(fmt.Sprintf("%s, %s, would come to zero with %s %s.", which, rate.Signed("s/day"), size.Text("turns"), wayOf(a.V)))
	r.then(fmt.Sprintf("%s, holding the bob so that the suspension isn't twisted; note it with `evenbeat note --kind adjusted --turns %+.2g`; judge the rate %s.", capital(turnTheNut(a.V, 2)), a.V, judge))
}

// turnTheNut says what to turn, to so many digits, -1 for as many as there are.
func turnTheNut(turns float64, digits int) string {
	return "turn the nut " + quantity.Turns(math.Abs(turns), digits) + " " + wayOf(turns)
}

// wayOf says which way turns go: plus is to gain.
func wayOf(turns float64) string {
	if turns < 0 {
		return "to make it lose (bob down)"
	}
	return "to make it gain (bob up)"
}

// sayNext says what to do when nothing better was said.
func (in In) sayNext(r *Result, tl *timeline) {
	switch {
	case len(tl.doubts) > 0 && tl.doubts[len(tl.doubts)-1].At.After(tl.at(tl.points[len(tl.points)-1].t)):
		r.Next = slices.Insert(r.Next, 0, "Check the dial again: that confirms the last check or leaves it out.")
	case tl.touched == sessions.EventStopped:
		r.then("The clock has stopped. When it goes again, note it as started and compare the dial.")
	case tl.touched != "":
		r.then(fmt.Sprintf("%s after the last check: check the dial now and again in a day, before anything is turned.", capital(Was("the clock", tl.touched))))
	case r.RateNow == nil && len(tl.acts) > 0:
		r.then("Check the dial again in about a day, before anything is turned: only then is there a rate.")
	case r.SpanDays < week:
		r.then("Check the dial daily at about the same hour until the record is a week long: only then does it show how steady the clock is.")
	case len(r.Next) == 0:
		r.then("Nothing needs turning now: go on checking the dial once a day or so.")
	}
	if len(in.Air) == 0 && len(tl.points) >= 5 {
		r.then("Record temperature and pressure with the checks: without them, the weather's effect can't be told from the clock's wandering.")
	}
}

// strays finds checks that stand off their neighbours by whole minutes, the usual
// slip when a dial is read.
func (in In) strays(tl *timeline) []string {
	const longest = 14 // days: over more, a rate may well have bent
	off := make([]float64, len(tl.points))
	for i := 1; i+1 < len(tl.points); i++ {
		a, b, c := tl.points[i-1], tl.points[i], tl.points[i+1]
		if a.run == c.run && c.t > a.t && c.t-a.t <= longest {
			off[i] = b.e - (a.e + (c.e-a.e)*(b.t-a.t)/(c.t-a.t))
		}
	}
	var why []string
	for i := 1; i+1 < len(off); i++ {
		minutes := math.Round(off[i] / 60)
		// A stray check throws its neighbours off the other way, by half as much.
		if minutes == 0 || math.Abs(off[i]-60*minutes) > 5 || math.Abs(off[i]) < max(math.Abs(off[i-1]), math.Abs(off[i+1])) {
			continue
		}
		why = append(why, fmt.Sprintf("The check of %s is %s s off its neighbours: about %s, so it may be misread.", in.when(tl.at(tl.points[i].t)), quantity.Minus(fmt.Sprintf("%+.1f", off[i])), wholeMinutes(minutes)))
	}
	return why
}

func wholeMinutes(n float64) string {
	if n = math.Abs(n); n != 1 {
		return fmt.Sprintf("%.0f whole minutes", n)
	}
	return "a whole minute"
}
