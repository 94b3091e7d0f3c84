package going

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

// The prior of a clock's wandering: a random error of about 0.3 s in a day, and a rate
// that changes by about 0.05 s/day in a day, each with a standard deviation of a factor
// of five. That spans what Beckett reports (Rudimentary Treatise, 8th ed.): 0.2 s each
// side of the mean for the daily variation of a great clock, 2 s a week for a dead-beat
// regulator (p. 264), 5 or 6 s a week for public clocks (p. 60). The shape is a choice
// without source. A record of a week and more outweighs it.
const (
	usualPhase  = 0.3  // s/√day
	usualRate   = 0.05 // (s/day)/√day
	usualSpread = 5.0  // a standard deviation, as a factor
	gridReach   = 2.5  // standard deviations either way
	gridSteps   = 13
)

// posterior holds the weighted estimates for all sizes of wandering.
type posterior struct {
	estimates []estimate
	obs       observations
}

// weigh regresses the record for a grid of sizes of wandering. The result has at least
// one estimate unless the equations could be solved for none.
func (tl *timeline) weigh(columns []column) posterior {
	p := posterior{obs: tl.observe(columns)}
	for i := range gridSteps {
		for j := range gridSteps {
			a, b := gridPlace(i), gridPlace(j)
			phase, rate := usualPhase*math.Pow(usualSpread, a), usualRate*math.Pow(usualSpread, b)
			e, ok := p.obs.regress(noise{phase: phase * phase, rate: rate * rate})
			if !ok {
				continue
			}
			e.weight -= (a*a + b*b) / 2
			p.estimates = append(p.estimates, e)
		}
	}
	p.estimates = shares(p.estimates, func(e *estimate) *float64 { return &e.weight })
	return p
}

// lacking is the share of records in which something that isn't recorded moves with a
// factor, and elsewhere how many times wider than physics allows coefficients then lie (our
// own choice, no source). They bound what a coefficient beyond physics can say.
const (
	lacking   = 0.05
	elsewhere = 10.0
)

// allow weighs the sizes of wandering by what physics allows of coefficient j, from low to
// high or none at all. A short restless record may scatter little by chance. Alone it then
// says that the wandering is small and that the coefficient, which chance has taken far
// off, is well known. No real rod does so much, so the wandering must be larger.
//
// The prior of the coefficient is rectangular within the bounds, but for the lacking share.
// Given a size of wandering, the record alone leaves the coefficient normal, with the
// density φ. By Bayes' theorem the evidence for that size is then what it was times
//
//	∫ prior·φ ∝ (1−lacking)·(Φ(high) − Φ(low)) + lacking/elsewhere
//
// Several coefficients are taken one by one, as if they were independent. Only the sizes
// are weighed: the coefficient and its interval for each stay as the record alone has
// them, so that an effect beyond physics still shows.
func (p *posterior) allow(j int, low, high float64) {
	low, high = min(0, low), max(0, high)
	p.reweigh(func(e *estimate) float64 {
		n := distuv.Normal{Mu: e.coef[j], Sigma: math.Sqrt(e.cov.At(j, j))}
		within := n.CDF(high) - n.CDF(low)
		return (1-lacking)*within + lacking/elsewhere
	})
}

// usualTrend is how fast the rate of a pendulum clock changes steadily, as a standard
// deviation in s/day/day. As the seasons change, a room warms or cools by about 0.1 K a day,
// and a clock with a steel rod then changes its rate by 0.05 s/day each day (our own choice,
// no source).
const usualTrend = 0.05

// expectTrend weighs the sizes of wandering by the trends that clocks have. Coefficient j is
// the trend. When a room warms by some kelvins in a week, the rate of a steel rod's clock
// falls by several tenths of a second a day each day, as smoothly as in a real trend. The
// record alone then says that the wandering is small and that the trend is well known. No
// clock changes so fast for long, so the wandering must be larger. Without this the
// intervals of such a week held 87 %.
//
// The prior of the trend is normal with a standard deviation of usualTrend, and for the
// lacking share of records as flat as in allow, so that a great trend that the record
// shows well stays as the record alone tells it. The evidence for a size is what it was
// times the density of the trend found. As in allow, only the sizes are weighed.
func (p *posterior) expectTrend(j int) {
	usual := distuv.Normal{Sigma: usualTrend}
	p.reweigh(func(e *estimate) float64 {
		found := distuv.Normal{Sigma: math.Sqrt(usualTrend*usualTrend + e.cov.At(j, j))}
		return (1-lacking)*found.Prob(e.coef[j]) + lacking/elsewhere*usual.Prob(0)
	})
}

// reweigh multiplies the evidence for each size of wandering.
func (p *posterior) reweigh(by func(*estimate) float64) {
	for i := range p.estimates {
		e := &p.estimates[i]
		e.weight = math.Log(e.weight * by(e))
	}
	p.estimates = shares(p.estimates, func(e *estimate) *float64 { return &e.weight })
}

func gridPlace(i int) float64 { return gridReach * (2*float64(i)/(gridSteps-1) - 1) }

// shares turns the log weights of all into shares of one, and drops what is below a
// millionth.
func shares[T any](all []T, weight func(*T) *float64) []T {
	best := math.Inf(-1)
	for i := range all {
		best = max(best, *weight(&all[i]))
	}
	sum := 0.0
	kept := all[:0]
	for i := range all {
		w := weight(&all[i])
		if *w = math.Exp(*w - best); *w > 1e-6 {
			sum += *w
			kept = append(kept, all[i])
		}
	}
	for i := range kept {
		*weight(&kept[i]) /= sum
	}
	return kept
}

// linear returns the sum of coefficients, each times its c.
func (p *posterior) linear(c []float64) quantity.Value { return p.along(c).value() }

// along is linear as a distribution.
func (p *posterior) along(c []float64) mixture {
	m := make(mixture, len(p.estimates))
	for i, e := range p.estimates {
		m[i] = part{weight: e.weight, sd: math.Sqrt(e.quadratic(c))}
		for j, cj := range c {
			m[i].mean += cj * e.coef[j]
		}
	}
	return m
}

func (e *estimate) quadratic(c []float64) float64 {
	sum := 0.0
	for i := range c {
		for j := range c {
			sum += c[i] * c[j] * e.cov.At(i, j)
		}
	}
	return max(0, sum)
}

// ahead returns the expected error of the dial so many days after the last point if
// nothing is touched. The wandering goes on and widens the interval.
func (p *posterior) ahead(tl *timeline, columns []column, days float64) quantity.Value {
	last := len(tl.points) - 1
	from := tl.points[last].t
	m := make(mixture, len(p.estimates))
	for i, e := range p.estimates {
		s := state{t: e.last.t, x: append([]float64(nil), e.last.x...), r: append([]float64(nil), e.last.r...),
			pxx: e.last.pxx, pxr: e.last.pxr, prr: e.last.prr}
		s.predict(from+days, e.wander)
		mean := s.x[0] + p.obs.slope*(from+days)
		c := make([]float64, len(columns))
		for j, col := range columns {
			c[j] = p.obs.rows[last][j+1] + col.step(from, from+days) - s.x[j+1]
			mean += c[j] * e.coef[j]
		}
		m[i] = part{e.weight, mean, math.Sqrt(max(0, s.pxx) + e.quadratic(c))}
	}
	return m.value()
}

// daily returns the standard deviation of the clock's own wandering over a day.
func (p *posterior) daily() float64 {
	sum := 0.0
	for _, e := range p.estimates {
		sum += e.weight * (e.wander.phase + e.wander.rate/3)
	}
	return math.Sqrt(sum)
}
