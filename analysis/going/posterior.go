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
	best := math.Inf(-1)
	for i := range gridSteps {
		for j := range gridSteps {
			a, b := gridPlace(i), gridPlace(j)
			phase, rate := usualPhase*math.Pow(usualSpread, a), usualRate*math.Pow(usualSpread, b)
			e, ok := p.obs.regress(noise{phase: phase * phase, rate: rate * rate})
			if !ok {
				continue
			}
			e.weight -= (a*a + b*b) / 2
			best = max(best, e.weight)
			p.estimates = append(p.estimates, e)
		}
	}
	p.normalise(best)
	return p
}

func gridPlace(i int) float64 { return gridReach * (2*float64(i)/(gridSteps-1) - 1) }

// normalise turns log weights into shares and drops what is below a millionth.
func (p *posterior) normalise(best float64) {
	sum := 0.0
	kept := p.estimates[:0]
	for _, e := range p.estimates {
		if e.weight = math.Exp(e.weight - best); e.weight > 1e-6 {
			sum += e.weight
			kept = append(kept, e)
		}
	}
	for i := range kept {
		kept[i].weight /= sum
	}
	p.estimates = kept
}

// linear returns the sum of coefficients, each times its c.
func (p *posterior) linear(c []float64) quantity.Value {
	means, sds := make([]float64, len(p.estimates)), make([]float64, len(p.estimates))
	for i, e := range p.estimates {
		for j, cj := range c {
			means[i] += cj * e.coef[j]
		}
		sds[i] = math.Sqrt(e.quadratic(c))
	}
	return p.mixed(means, sds)
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
	means, sds := make([]float64, len(p.estimates)), make([]float64, len(p.estimates))
	for i, e := range p.estimates {
		s := state{t: e.last.t, x: append([]float64(nil), e.last.x...), r: append([]float64(nil), e.last.r...),
			pxx: e.last.pxx, pxr: e.last.pxr, prr: e.last.prr}
		s.predict(from+days, e.wander)
		means[i] = s.x[0] + p.obs.slope*(from+days)
		c := make([]float64, len(columns))
		for j, col := range columns {
			c[j] = p.obs.rows[last][j+1] + col.step(from, from+days) - s.x[j+1]
			means[i] += c[j] * e.coef[j]
		}
		sds[i] = math.Sqrt(max(0, s.pxx) + e.quadratic(c))
	}
	return p.mixed(means, sds)
}

// daily returns the standard deviation of the clock's own wandering over a day.
func (p *posterior) daily() float64 {
	sum := 0.0
	for _, e := range p.estimates {
		sum += e.weight * (e.wander.phase + e.wander.rate/3)
	}
	return math.Sqrt(sum)
}

// mixed returns mean and spread of the weighted normal distributions, with the
// factor that makes the interval about the mean hold 95 % of them.
func (p *posterior) mixed(means, sds []float64) quantity.Value {
	var v quantity.Value
	for i, e := range p.estimates {
		v.V += e.weight * means[i]
	}
	widest := 0.0
	for i, e := range p.estimates {
		d := means[i] - v.V
		v.U += e.weight * (sds[i]*sds[i] + d*d)
		widest = max(widest, math.Abs(d)+5*sds[i])
	}
	if v.U = math.Sqrt(v.U); !(v.U > 0) {
		return v
	}
	low, high := 0.0, widest
	for range 60 {
		h := (low + high) / 2
		held := 0.0
		for i, e := range p.estimates {
			n := distuv.Normal{Mu: means[i], Sigma: max(sds[i], 1e-300)}
			held += e.weight * (n.CDF(v.V+h) - n.CDF(v.V-h))
		}
		if held < 0.95 {
			low = h
		} else {
			high = h
		}
	}
	v.K = high / v.U
	return v
}
