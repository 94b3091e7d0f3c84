package going

import (
	"math"

	"evenbeat/devices/quantity"
)

const (
	// trendStretches is the fewest stretches between checks that separate a trend from
	// the wandering.
	trendStretches = 4
	// week is how far ahead the forecast reaches, in days.
	week = 7.0
)

// Analyse returns how the clock went. The mean rate is end to end: the error at the last
// check less that at the first, without settings of the hands, over the days between.
// Where the hands were set by an unknown amount, or the clock stood, the mean is over the
// observed going. Mean and daily rates have the uncertainty of their checks. Trend,
// factors, the effect of a turn of the nut, and the forecast also have that of the
// clock's wandering: see the package comment.
//
// Where no two checks are leastSpan apart there are no rates, and Next says what is
// missing. The error is a *quantity.InputError: a number that no check, event or air could
// have.
func Analyse(in In) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}
	tl := in.timeline()
	r, p := in.analyse(&tl)
	in.outcomes(&r, &tl, &p)
	return r, nil
}

// analyse is Analyse without what came of the turns of the nut. The model is empty where
// there are no rates, else that of the rate's steps, with the winding where it shows.
func (in In) analyse(tl *timeline) (Result, posterior) {
	r := Result{Checks: tl.checks, Doubtful: tl.doubts, Reasons: []string{}, Next: []string{}}
	if n := len(tl.points); n > 0 {
		last := tl.points[n-1]
		r.SpanDays = last.t - tl.points[0].t
		r.ErrorNow = &quantity.Value{V: last.e, U: last.u}
		r.Curve = tl.curve(nil, nil)
	}
	mean, days, ok := tl.meanRate()
	if !ok || days < leastSpan {
		in.sayTooFew(&r, tl, days)
		return r, posterior{}
	}
	r.MeanRate = &mean
	r.Daily = tl.dailyRates()
	columns := tl.base(false)
	p := tl.weigh(columns)
	if len(p.estimates) == 0 {
		r.say("This record doesn't show how the clock wanders: only rates between checks are given.")
		return r, posterior{}
	}
	var known bool
	r.Segments, known = tl.segments(&p)
	if tl.touched == "" && known {
		r.RateNow = &r.Segments[len(r.Segments)-1].Rate
	}
	if known {
		forecast := p.ahead(tl, columns, week)
		r.Forecast = &forecast
	}
	r.Curve = tl.curve(&p, columns)
	in.sayRate(&r, tl, days)
	in.explain(&r, tl, &p)
	if tl.runDown != nil {
		if even := tl.weigh(tl.withRunDown(tl.base(false))); len(even.estimates) > 0 {
			p = even
		}
	}
	in.adviseNut(&r, tl, &p)
	in.sayNext(&r, tl)
	return r, p
}

// explain adds trend and factors.
func (in In) explain(r *Result, tl *timeline, p *posterior) {
	stretches := 0
	for range tl.stretches() {
		stretches++
	}
	acts := len(tl.acts)
	if stretches < trendStretches+acts {
		r.say("Too few checks to tell whether the rate is changing.")
		return
	}
	columns := append(tl.base(false), tl.trendColumn())
	if withTrend := tl.weigh(columns); len(withTrend.estimates) > 0 {
		withTrend = withTrend.restless()
		if !in.Balance { // whose rate changes with the air much faster
			withTrend.expectTrend(len(columns) - 1)
		}
		trend := withTrend.linear(unit(len(columns), len(columns)-1))
		r.Trend = &trend
	}
	in.sayTrend(r, p)
	in.factors(r, tl, stretches)
}

// adviseNut adds what a turn does and what to turn, for the rate since the last
// act.
func (in In) adviseNut(r *Result, tl *timeline, p *posterior) {
	nut, why := in.nut(tl)
	r.say(why...)
	if nut == nil || len(r.Segments) == 0 {
		return
	}
	r.Nut = nut
	if r.RateNow == nil {
		return // the rate that was measured is no more
	}
	rate := *r.RateNow
	if tl.runDown != nil {
		rate = tl.wholeWindings(rate)
		if even := tl.weigh(tl.withRunDown(tl.base(false))); len(even.estimates) > 0 {
			p = &even
		}
	}
	last := tl.points[len(tl.points)-1].t
	seen := tl.observed(tl.lastAct(), last)
	nut.advise(rate, math.Hypot(p.meanOver(week), p.meanOver(seen)))
	sayNut(r, rate, tl.runDown != nil)
}

// meanOver returns the standard deviation that the wandering alone brings to a mean rate
// over so many days, against the rate at either end of them.
func (p *posterior) meanOver(days float64) float64 {
	sum := 0.0
	for _, e := range p.estimates {
		sum += e.weight * (e.wander.phase/days + e.wander.rate*days/3)
	}
	return math.Sqrt(sum)
}

// curve returns the checks as recorded and by the straight lines of the model, so that the
// figure shows the wandering about them. Without a model the two are the same.
func (tl *timeline) curve(p *posterior, columns []column) []CurvePoint {
	curve := make([]CurvePoint, len(tl.points))
	slopes := make([]float64, len(columns))
	for j := range columns {
		slopes[j] = p.linear(unit(len(columns), j)).V
	}
	runStart := 0
	for i, q := range tl.points {
		curve[i] = CurvePoint{At: tl.at(q.t), ErrorS: q.e, ModelS: q.e, Segment: q.seg}
		if p == nil {
			continue
		}
		m := p.obs.slope * q.t
		for j := range columns {
			m += slopes[j] * p.obs.rows[i][j+1]
		}
		curve[i].ModelS = m
		if last := i+1 == len(tl.points) || tl.points[i+1].run != q.run; last {
			level(curve[runStart : i+1])
			runStart = i + 1
		}
	}
	return curve
}

// level shifts a run's model so that it passes through the middle of its checks.
func level(run []CurvePoint) {
	sum := 0.0
	for _, c := range run {
		sum += c.ErrorS - c.ModelS
	}
	for i := range run {
		run[i].ModelS += sum / float64(len(run))
	}
}
