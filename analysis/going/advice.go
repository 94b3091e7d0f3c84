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

// deed is what was done to the clock between two of its checks, in order of time. What
// each act did to the rate can't be told apart.
type deed []act

// deeds returns all that was done, also before the first check and after the last.
func (tl *timeline) deeds() (all []deed) {
	for _, a := range tl.noted {
		if n := len(all); n > 0 && !tl.apart(all[n-1].end(), a.t) {
			all[n-1] = append(all[n-1], a)
			continue
		}
		all = append(all, deed{a})
	}
	return all
}

// apart reports whether a check lies between two acts, and going that was seen.
func (tl *timeline) apart(a, b float64) bool {
	return tl.observed(a, b) > 0 && slices.ContainsFunc(tl.points, func(p point) bool { return p.t > a && p.t <= b })
}

func (d deed) begin() float64 { return d[0].t }
func (d deed) end() float64   { return d[len(d)-1].t }

// nut returns the acts that adjusted the clock.
func (d deed) nut() (acts deed) {
	for _, a := range d {
		if a.kind == sessions.EventAdjusted {
			acts = append(acts, a)
		}
	}
	return acts
}

// turns returns the turns of all acts in sum, and whether they are known of each.
func (d deed) turns() (sum float64, known bool) {
	for _, a := range d {
		if !a.hasTurns {
			return 0, false
		}
		sum += a.turns
	}
	return sum, true
}

// beside returns what else was done that may have changed the rate, "" for nothing.
func (d deed) beside() string {
	for _, a := range d {
		if a.kind != sessions.EventAdjusted && !still(a.kind) {
			return Was("the clock", a.kind)
		}
	}
	return ""
}

// do puts into words what was done to the nut.
func (d deed) do() string {
	var all []string
	for _, a := range d.nut() {
		words := "adjust it by turns not noted"
		if a.hasTurns {
			words = turnTheNut(a.turns, -1)
		}
		all = append(all, words)
	}
	words := strings.Join(all, ", then ")
	if len(all) > 1 {
		words += ", between the same two checks"
	}
	if other := d.beside(); other != "" {
		words += "; " + other + " between the same two checks"
	}
	return words
}

// outcome is advice that was followed, or a turn that no advice asked for.
type outcome struct {
	Advice
	deed   deed
	before float64 // days of going seen since the deed before it, or the first check
	after  float64 // until the next deed, or the last check
	newest bool    // nothing was done since
}

// outcomes adds what was done to the nut, what that was to bring and what it brought, and
// last what is advised now. What it was to bring is by the thread, and by the checks up to
// then: see nut. Which checks are doubtful, and whether the winding shows, is judged by the
// whole record. What it brought is the step of the rate in the model of the package, which
// is told from the clock's wandering.
func (in In) outcomes(r *Result, tl *timeline, p *posterior) {
	if len(tl.points) == 0 {
		return
	}
	first, last := tl.points[0].t, tl.points[len(tl.points)-1].t
	all := tl.deeds()
	for i, d := range all {
		if len(d.nut()) == 0 {
			continue
		}
		from, to := first, last
		if i > 0 {
			from = all[i-1].end()
		}
		newest := i+1 == len(all)
		if !newest {
			to = all[i+1].begin()
		}
		o := outcome{deed: d, before: tl.observed(from, d.begin()), after: tl.observed(d.end(), to), newest: newest}
		o.Made, o.Done, o.Do = in.made(tl, d[0]), d[len(d)-1].at.In(in.zone()), d.do()
		o.expect(in, tl)
		o.see(tl, p)
		o.Says = o.says(in)
		r.Advice = append(r.Advice, o.Advice)
	}
	if n := len(r.Advice); n > 0 {
		r.sayOutcome(r.Advice[n-1])
	}
	if r.Nut != nil && r.Nut.Advice != nil {
		r.Advice = append(r.Advice, r.Nut.advised(in.made(tl, act{t: last})))
	}
}

// made returns the time of the last check that advice before an act could rest on, or
// that of the act where there is none.
func (in In) made(tl *timeline, a act) time.Time {
	made := a.at
	for _, p := range tl.points {
		switch {
		case p.t > a.t:
		case p.check != nil:
			made = p.check.At
		default:
			made = tl.at(p.t)
		}
	}
	return made.In(in.zone())
}

// advised returns the advice of what to turn now.
func (n *Nut) advised(made time.Time) Advice {
	if !n.worth() {
		return Advice{Made: made, Do: "leave the nut", Says: "Advised now: leave the nut.", Open: true}
	}
	expected := n.PerTurn.Scale(n.Advice.V)
	do := turnTheNut(n.Advice.V, 2)
	return Advice{Made: made, Do: do, Expected: &expected, Open: true,
		Says: fmt.Sprintf("Advised now: %s, which is to bring %s.", do, expected.Signed("s/day"))}
}

// worth reports whether there are turns to make: they can be told from none, and made by hand.
func (n *Nut) worth() bool { return !n.Advice.Covers(0) && math.Abs(n.Advice.V) >= leastTurn }

// expect fills in what the turns were to bring, by what was known before them.
func (o *outcome) expect(in In, tl *timeline) {
	turns, known := o.deed.nut().turns()
	if !known {
		return
	}
	then := tl.upTo(o.deed.begin())
	if nut, _ := in.nut(&then); nut != nil {
		expected := nut.PerTurn.Scale(turns)
		o.Expected = &expected
	}
}

// upTo returns the record as it was before an act at time t.
func (tl *timeline) upTo(t float64) timeline {
	early := *tl
	early.points = nil
	for _, p := range tl.points {
		if p.t <= t {
			early.points = append(early.points, p)
		}
	}
	early.acts = nil
	for _, a := range tl.acts {
		if a.t < t {
			early.acts = append(early.acts, a)
		}
	}
	return early
}

// see fills in what the turns brought, and whether later checks may still tell it.
func (o *outcome) see(tl *timeline, p *posterior) {
	if o.deed.beside() != "" || o.before < leastSpan {
		return
	}
	o.Open = o.newest
	if o.after < leastSpan || len(p.estimates) == 0 {
		return
	}
	c := make([]float64, 1+len(tl.acts))
	for j, a := range tl.acts {
		if a.t >= o.deed.begin() && a.t <= o.deed.end() {
			c[1+j] = 1
		}
	}
	restless := p.restless()
	if came := restless.linear(c); came.Finite() && came.Half95() <= widestRate {
		o.Came = &came
		o.Open = o.newest && o.untold()
	}
}

// restless returns the posterior by a prior that reaches twice as far, in the logarithm,
// to rates that wander more than is usual. A step or a trend stands or falls by how the rate
// wanders, of which a month says little: with the usual prior the intervals of a step held
// 88 % on a clock four times as restless as usual, and with this one 93 %.
func (p *posterior) restless() posterior {
	q := posterior{obs: p.obs, estimates: slices.Clone(p.estimates)}
	for i := range q.estimates {
		e := &q.estimates[i]
		over := max(0, math.Log(math.Sqrt(e.wander.rate)/usualRate)/math.Log(usualSpread))
		e.weight = math.Log(e.weight) + over*over/2 - over*over/8
	}
	q.estimates = shares(q.estimates, func(e *estimate) *float64 { return &e.weight })
	return q
}

// untold reports whether what came may be nothing as well as what was expected.
func (o *outcome) untold() bool {
	return o.Expected != nil && o.Came.Covers(0) && o.Came.Covers(o.Expected.V)
}

// beyond reports whether what came is less or more than expected, by both intervals.
func (a Advice) beyond() bool {
	return a.Expected != nil && a.Came != nil && (a.Came.High95() < a.Expected.Low95() || a.Came.Low95() > a.Expected.High95())
}

// says puts into words what the turns were to bring, and what they brought.
func (o *outcome) says(in In) string {
	what := "Adjusting it by turns not noted"
	nut := o.deed.nut()
	if turns, known := nut.turns(); known {
		way := "up"
		if turns < 0 {
			way = "down"
		}
		what = "Turning the nut " + way + " " + quantity.Turns(math.Abs(turns), 4)
	}
	if len(nut) > 1 {
		what += " in all"
	}
	what += " on " + in.when(o.Done)
	if o.Expected != nil {
		what += " was to bring " + o.Expected.Signed("s/day")
	}
	switch {
	case o.Came == nil:
		return what + ": " + o.whyUntold() + "."
	case o.Expected == nil:
		return fmt.Sprintf("%s brought %s.", what, o.Came.Signed("s/day"))
	case o.untold():
		return fmt.Sprintf("%s; it brought %s, which doesn't tell%s.", what, o.Came.Signed("s/day"), map[bool]string{true: " yet"}[o.Open])
	}
	verdict, _ := o.amiss()
	return fmt.Sprintf("%s; it brought %s%s.", what, o.Came.Signed("s/day"), verdict)
}

// whyUntold says why nothing is known of what came.
func (o *outcome) whyUntold() string {
	switch other := o.deed.beside(); {
	case o.Open:
		return "what it brought can't be told yet"
	case other != "":
		return "what it brought can't be told, since " + other + " between the same two checks"
	default:
		return "what it brought can't be told from so few checks before and after it"
	}
}

// amiss says how what came is beyond what was expected, and what to look at before the nut
// is turned again. Both are "" where it isn't.
func (a Advice) amiss() (verdict, look string) {
	const touched = ", and whether rod, suspension or hands were touched"
	switch {
	case !a.beyond():
		return "", ""
	case a.Came.Covers(0):
		return ", as if the bob had not moved", "whether the bob follows it: a bob that sticks on its rod, or a nut that binds, leaves the rate as it was"
	case a.Came.V*a.Expected.V < 0:
		return ", the other way", "whether its turns are noted with the right sign (plus = made to gain)" + touched
	case math.Abs(a.Came.V) < math.Abs(a.Expected.V):
		return ", less than expected", "whether the bob follows it, whether pitch and turns are noted right" + touched
	}
	return ", more than expected", "whether pitch and turns are noted right" + touched
}

// sayOutcome says what the last turn of the nut brought, and what to look at where that is
// beyond what was expected.
func (r *Result) sayOutcome(a Advice) {
	r.Turned = a.Says
	r.say(a.Says)
	if _, look := a.amiss(); look != "" {
		r.Next = slices.Insert(r.Next, 0, "Before the nut is turned again, see "+look+".")
	}
}
