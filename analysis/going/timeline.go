package going

import (
	"math"
	"slices"
	"time"

	"evenbeat/sessions"
)

// point is one known error of the dial. Between runs the hands were set, or the clock
// stood, by an unknown amount.
type point struct {
	t    float64
	e, u float64
	run  int
	seg  int
	// check is nil for what was noted when the hands were set.
	check *sessions.Check
}

// act is an event that may change the rate.
type act struct {
	t        float64
	at       time.Time
	kind     string
	turns    float64
	hasTurns bool
}

// timeline is the record in order: points, acts, and stretches of unbroken going.
type timeline struct {
	start  time.Time
	points []point
	acts   []act
	noted  []act // acts as they were noted, none left out or joined
	wound  []float64
	// checks counts those within the bounds; assumed, those without uncertainty.
	checks, assumed int
	unsaid          []time.Time // stops after which no start was noted
	// touched is the kind of the last act after the last point, "" if none.
	touched string
	doubts  []Doubt
	jumps   []Doubt // whole minutes off, and confirmed
	// runDown is how the rate goes with the winding, nil where that doesn't show.
	runDown *runDown
}

// moment is a check or an event.
type moment struct {
	at    time.Time
	check *sessions.Check
	event *sessions.Event
}

func (in In) timeline() timeline {
	var tl timeline
	moments := in.moments()
	for _, m := range moments {
		if m.check != nil || m.event.Kind == sessions.EventSet {
			tl.start = m.at.In(in.zone())
			break
		}
	}
	w := walk{tl: &tl, u: in.typicalU()}
	for _, m := range moments {
		if m.check != nil {
			w.check(m)
		} else {
			w.event(m)
		}
	}
	tl.sift()
	tl.placeActs()
	if w.stopped {
		tl.touched = sessions.EventStopped
	}
	return tl
}

// moments returns checks and events within the bounds in order of time. A winding before
// the bounds counts too, for the state of the spring. Of a check and an event at the same
// time the check comes first: one looks, then touches.
func (in In) moments() []moment {
	inside := func(t time.Time) bool {
		return (in.From.IsZero() || !t.Before(in.From)) && (in.To.IsZero() || !t.After(in.To))
	}
	var ms []moment
	for i := range in.Checks {
		if c := &in.Checks[i]; inside(c.At) {
			ms = append(ms, moment{at: c.At, check: c})
		}
	}
	for i := range in.Events {
		e := &in.Events[i]
		if inside(e.At) || e.Kind == sessions.EventWound && e.At.Before(in.From) {
			ms = append(ms, moment{at: e.At, event: e})
		}
	}
	// Checks are before events in ms, and a stable sort keeps them so.
	slices.SortStableFunc(ms, func(a, b moment) int { return a.at.Compare(b.at) })
	return ms
}

// typicalU is the standard uncertainty taken for a dial's error that was noted when the
// hands were set: the median of the checks'.
func (in In) typicalU() float64 {
	var us []float64
	for _, c := range in.Checks {
		if c.U > 0 {
			us = append(us, c.U)
		}
	}
	if len(us) == 0 {
		return assumedU
	}
	slices.Sort(us)
	return us[len(us)/2]
}

// walk builds the timeline from the moments in order.
type walk struct {
	tl      *timeline
	u       float64
	run     int
	checked bool // the last point is a check, and the clock wasn't touched since
	stopped bool
	stop    time.Time
}

func (w *walk) days(t time.Time) float64 { return t.Sub(w.tl.start).Hours() / 24 }

func (w *walk) add(at time.Time, e, u float64) {
	w.tl.points = append(w.tl.points, point{t: w.days(at), e: e, u: u, run: w.run})
}

func (w *walk) check(m moment) {
	w.tl.checks++
	if w.stopped {
		// The dial is read again, so the clock is going again.
		w.tl.unsaid = append(w.tl.unsaid, w.stop)
		w.resume(m.at, sessions.EventStopped)
	}
	u := m.check.U
	if u <= 0 {
		u = assumedU
		w.tl.assumed++
	}
	t := w.days(m.at)
	if w.checked && w.tl.points[len(w.tl.points)-1].t == t {
		w.tl.points[len(w.tl.points)-1].join(m.check.ErrorS, u)
		return
	}
	w.add(m.at, m.check.ErrorS, u)
	w.tl.points[len(w.tl.points)-1].check = m.check
	w.checked = true
}

// join takes in another check at the same time: the mean, weighted by the certainties.
// Checks that differ by more than their uncertainties make it less certain than these do,
// by the ratio of R. T. Birge, "The calculation of errors by the method of least squares",
// Phys. Rev. 40 (1932) 207 (from memory).
func (p *point) join(e, u float64) {
	both := math.Hypot(p.u, u)
	apart := max(1, math.Abs(e-p.e)/both)
	p.e += (e - p.e) * (p.u / both) * (p.u / both)
	p.u *= u / both * apart
}

func (w *walk) resume(at time.Time, kind string) {
	w.stopped, w.checked = false, false
	w.run++
	w.tl.acts = append(w.tl.acts, act{t: w.days(at), at: at, kind: kind})
}

func (w *walk) event(m moment) {
	e := m.event
	w.checked = w.checked && e.Kind == sessions.EventWound
	switch e.Kind {
	case sessions.EventWound:
		w.tl.wound = append(w.tl.wound, w.days(m.at))
	case sessions.EventSet:
		if e.HasBefore && !w.stopped {
			w.add(m.at, e.Before, w.u)
		}
		w.run++
		if e.HasAfter {
			w.add(m.at, e.After, w.u)
		}
	case sessions.EventStopped:
		if !w.stopped {
			w.stopped, w.stop = true, m.at // the restart begins a run
		}
	case sessions.EventStarted:
		w.resume(m.at, e.Kind)
	case sessions.EventCleaned, sessions.EventRepaired, sessions.EventBushed, sessions.EventReplaced:
		// The clock was stopped or taken apart for it, so that its error before and after are unrelated.
		w.resume(m.at, e.Kind)
	case sessions.EventAdjusted, sessions.EventMoved, sessions.EventOiled:
		w.tl.acts = append(w.tl.acts, act{t: w.days(m.at), at: m.at, kind: e.Kind, turns: e.Turns, hasTurns: e.HasTurns})
	}
}

// placeActs keeps the acts between the first and the last point, joins those without
// observed going between them, and gives each point its segment.
func (tl *timeline) placeActs() {
	tl.noted = tl.acts
	var acts []act
	if len(tl.points) > 0 {
		first, last := tl.points[0].t, tl.points[len(tl.points)-1].t
		for _, a := range tl.acts {
			switch {
			case a.t >= last:
				tl.touched = a.kind
			case a.t <= first:
			case len(acts) > 0 && tl.observed(acts[len(acts)-1].t, a.t) == 0:
				acts[len(acts)-1] = joined(acts[len(acts)-1], a)
			case tl.observed(first, a.t) == 0:
			default:
				acts = append(acts, a)
			}
		}
	}
	if n := len(acts); n > 0 && tl.observed(acts[n-1].t, tl.points[len(tl.points)-1].t) == 0 {
		tl.touched = acts[n-1].kind
		acts = acts[:n-1]
	}
	tl.acts = acts
	for i := range tl.points {
		p := &tl.points[i]
		begins := i == 0 || tl.points[i-1].run != p.run
		for p.seg < len(acts) && (acts[p.seg].t < p.t || acts[p.seg].t == p.t && begins) {
			p.seg++
		}
	}
}

// joined returns one act for two without observed going between them. Turns add up. A nut
// turned while the clock was also moved says nothing about the nut.
func joined(a, b act) act {
	j := a
	j.t, j.at = b.t, b.at
	if a.kind == b.kind {
		j.turns, j.hasTurns = a.turns+b.turns, a.hasTurns && b.hasTurns
		return j
	}
	if b.kind == sessions.EventAdjusted {
		j.kind = b.kind
	}
	j.turns, j.hasTurns = 0, false
	if only(a, b) {
		j.turns, j.hasTurns = a.turns+b.turns, true
	}
	return j
}

// only reports whether one of two acts is a turned nut and the other a start or stop,
// which by itself doesn't change the rate.
func only(a, b act) bool {
	return a.hasTurns && still(b.kind) || b.hasTurns && still(a.kind)
}

func still(kind string) bool { return kind == sessions.EventStarted || kind == sessions.EventStopped }

// observed returns the days of unbroken going between points from a to b.
func (tl *timeline) observed(a, b float64) float64 {
	sum := 0.0
	for from, to := range tl.stretches() {
		sum += max(0, min(to.t, b)-max(from.t, a))
	}
	return sum
}

// stretches yields neighbouring points of one run.
func (tl *timeline) stretches() func(yield func(from, to point) bool) {
	return func(yield func(from, to point) bool) {
		for i := 1; i < len(tl.points); i++ {
			if tl.points[i].run == tl.points[i-1].run && tl.points[i].t > tl.points[i-1].t {
				if !yield(tl.points[i-1], tl.points[i]) {
					return
				}
			}
		}
	}
}

func (tl *timeline) at(t float64) time.Time {
	return tl.start.Add(time.Duration(t * 24 * float64(time.Hour)))
}
