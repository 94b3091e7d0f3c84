package going

import (
	"math"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Standard deviations of the coefficients' priors, far beyond any clock: they keep sums
// finite and carry no information.
const (
	widthRate  = 1e4 // s/day
	widthTrend = 1e2 // s/day/day
)

// widestRate is the widest half of an interval, in s/day, that still tells of a clock: one
// that is wider was not observed by itself (our own choice, no source).
const widestRate = 1000

// leastSpan is the shortest going between checks, in days, that gives a rate: over three
// hours two checks to ±0.5 s tell it to ±7 s/day (our own choice, no source).
const leastSpan = 0.125

// meanRate returns the error gained over all observed going, divided by its time, and
// those days. That is the rate from end to end where the record is unbroken. Its
// uncertainty is that of the checks at the ends. It reports false where no two checks
// belong to one run.
func (tl *timeline) meanRate() (quantity.Value, float64, bool) {
	if len(tl.points) == 0 {
		return quantity.Value{}, 0, false
	}
	return tl.between(tl.points[0].t, tl.points[len(tl.points)-1].t)
}

// between returns the mean rate over the stretches that lie wholly from a to b,
// and their days.
func (tl *timeline) between(a, b float64) (quantity.Value, float64, bool) {
	de, dt, uu := 0.0, 0.0, 0.0
	var open bool
	var last point
	for from, to := range tl.stretches() {
		if from.t < a || to.t > b {
			continue
		}
		// Checks in the middle cancel: only the ends of a run count.
		if !open || last != from {
			if open {
				uu += last.u * last.u
			}
			uu += from.u * from.u
		}
		de += to.e - from.e
		dt += to.t - from.t
		open, last = true, to
	}
	if !open {
		return quantity.Value{}, 0, false
	}
	uu += last.u * last.u
	return quantity.Value{V: de / dt, U: math.Sqrt(uu) / dt}, dt, true
}

// measured returns the first and the last point of the stretches that between counts.
func (tl *timeline) measured(a, b float64) (first, last float64) {
	first, last = b, a
	for from, to := range tl.stretches() {
		if from.t >= a && to.t <= b {
			first, last = min(first, from.t), to.t
		}
	}
	return first, last
}

// dailyRates returns the rates between checks about a day apart. Each check is paired
// with the one nearest to a day later, which begins the next pair.
func (tl *timeline) dailyRates() []Daily {
	const shortest, longest = 0.6, 1.5
	var daily []Daily
	for i := 0; i < len(tl.points); {
		from, next := tl.points[i], -1
		for j := i + 1; j < len(tl.points) && tl.points[j].run == from.run && tl.points[j].t-from.t <= longest; j++ {
			if dt := tl.points[j].t - from.t; dt >= shortest && (next < 0 || math.Abs(dt-1) < math.Abs(tl.points[next].t-from.t-1)) {
				next = j
			}
		}
		if next < 0 {
			i++
			continue
		}
		to := tl.points[next]
		dt := to.t - from.t
		daily = append(daily, Daily{From: tl.at(from.t), To: tl.at(to.t),
			Rate: quantity.Value{V: (to.e - from.e) / dt, U: math.Hypot(from.u, to.u) / dt}})
		i = next
	}
	return daily
}

// base returns the columns of the rate itself: one for the rate at the start and
// one for the step at each act. With nut, the acts whose turns are known share one
// column: the gain of one turn, which then is the second.
func (tl *timeline) base(nut bool) []column {
	columns := []column{{step: func(a, b float64) float64 { return b - a }, prior: widthRate}}
	if nut {
		columns = append(columns, column{prior: widthRate, step: func(a, b float64) float64 {
			sum := 0.0
			for _, act := range tl.acts {
				if act.turned() {
					sum += act.turns * max(0, b-max(a, act.t))
				}
			}
			return sum
		}})
	}
	for _, act := range tl.acts {
		if nut && act.turned() {
			continue
		}
		columns = append(columns, column{prior: widthRate, step: func(a, b float64) float64 { return max(0, b-max(a, act.t)) }})
	}
	return columns
}

// turned reports whether the act is a turned nut and nothing else.
func (a act) turned() bool {
	return a.kind == sessions.EventAdjusted && a.hasTurns && a.turns != 0
}

// trendColumn is the column of a linear frequency drift, zero at the record's middle.
func (tl *timeline) trendColumn() column {
	mid := (tl.points[0].t + tl.points[len(tl.points)-1].t) / 2
	return column{prior: widthTrend, step: func(a, b float64) float64 { return (b - a) * ((a+b)/2 - mid) }}
}

// segments returns the rates between acts. Where two checks lie in a segment the rate is
// end to end between them, with the checks' uncertainty, and the segment is stated from the
// one to the other: how the clock wandered between them and the acts isn't known.
// Otherwise it is the model's, which separates the rates before and after within one
// stretch. known reports whether the last of them is the one since the last act.
func (tl *timeline) segments(p *posterior) (segs []Segment, known bool) {
	first, last := tl.points[0].t, tl.points[len(tl.points)-1].t
	for j := range len(tl.acts) + 1 {
		from, to := first, last
		var s Segment
		if j > 0 {
			from, s.After = tl.acts[j-1].t, tl.acts[j-1].kind
			s.AfterAt = tl.at(from)
		}
		if j < len(tl.acts) {
			to = tl.acts[j].t
		}
		rate, days, ok := tl.between(from, to)
		if ok && days >= max(leastSpan, tl.observed(from, to)/2) {
			from, to = tl.measured(from, to)
		} else {
			c := make([]float64, len(tl.acts)+1)
			for i := range j + 1 {
				c[i] = 1
			}
			rate = p.linear(c)
			rate.V += p.obs.slope
		}
		known = rate.Half95() <= widestRate && rate.Finite()
		if known {
			s.From, s.To, s.Rate = tl.at(from), tl.at(to), rate
			segs = append(segs, s)
		}
	}
	return segs, known
}
