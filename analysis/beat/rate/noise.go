package rate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Kinds of power-law noise of the time error, as Line.Shares counts them: independent
// from beat to beat, flicker of phase, intervals independent of each other, and a rate
// that walks at random.
const (
	WhitePhase = iota
	FlickerPhase
	WhiteFrequency
	RateWalk
	Kinds
)

// powerLaw is a kind of slow noise of the time error, by how the variance of contrasts
// falls with their degree. The shapes are exact for a continuous run:
//
//	flicker of phase        (2p+1)/(p(p+1))
//	independent intervals   1/((2p+3)(2p−1))            (the time error walks at random)
//	random walk of rate     double integral of the p-th Legendre polynomial, squared
//
// from the integrals of Legendre polynomials, (2p+1)∫P = P₍p₊₁₎ − P₍p₋₁₎, and for
// flicker the logarithmic kernel. At p = 1 they give the error of the slope: for
// the first two against the rate that the clock would show in the long run; for
// the third, where there is no such rate, against the mean over the run itself,
// from its first beat to its last (variance qD/210 of the slope, q the growth of
// the rate's variance with time, D the run's length).
//
// Of the third kind that error mostly goes with the contrast of degree three, and is
// taken out by it: see meanLessSlope.
type powerLaw struct {
	power float64 // of the run's length
	shape func(p float64) float64
	slope float64 // shape at p = 1
	prior float64 // of the kind, shared by its strengths
	// through is the prior besides, of few beats, of the greatest strength: no scatter
	// is independent.
	through float64
}

// powerLaws returns the kinds after WhitePhase, in order.
func powerLaws() []powerLaw {
	return []powerLaw{
		{1, func(p float64) float64 { return (2*p + 1) / (p * (p + 1)) }, 1.5, 0.1, 1},
		{2, func(p float64) float64 { return 1 / ((2*p + 3) * (2*p - 1)) }, 0.2, 0.03, 0},
		{4, walkShape, 1.0 / 2520, 0.07, 0},
	}
}

func walkShape(p float64) float64 {
	p = max(p, 2)
	a, b := 2*p+3, 2*p-1
	return (1/(a*a*(2*p+5)) + (1/a+1/b)*(1/a+1/b)/(2*p+1) + 1/(b*b*(2*p-3))) / (16 * (2*p + 1))
}

// meanLessSlope returns by how much the mean rate from first beat to last exceeds the
// slope of the line for a walking rate, given the contrast c of degree three, and the
// variance that leaves: both as contrasts of degree one, the variance for a level of one.
//
// With w the rate's steps over the run from u = −1 to 1, the one is the integral of
// w(u−u³)/4 and the other that of w with the double integral of the third Legendre
// polynomial. Their covariance is √(7/3)/5040 where the variances are 1/2520 and
// shape(3), so that c explains 92 % of it. Higher contrasts would explain more, but
// what they say of the ends holds only where beats are independent. Source: our own,
// from the integrals above.
func meanLessSlope(c, strength float64) (mean, variance float64) {
	const slope, with = 1.0 / 2520, 1.5275252316519468 / 5040
	gain := strength * with / (1 + strength*walkShape(3))
	return gain * c, strength * (slope - gain*with)
}

// mixture is the distribution of the slope's error given the contrasts: Student
// distributions with the same degrees of freedom, one for each kind and strength of slow
// noise, weighted by how well that explains the contrasts.
type mixture struct {
	freedom float64
	centre  []float64 // seconds, of the contrast of degree one, from the line's own
	scale   []float64 // seconds, of the same
	weight  []float64
	log     float64        // log likelihood of the contrasts, over all
	white   float64        // standard deviation of a beat, independent from beat to beat, seconds
	shares  [Kinds]float64 // of the variance of the slope
}

const (
	strengths = 16 // of each kind, from hardly to all through
	// evenPrior is for no slow noise at all. Priors are relative to each other.
	evenPrior = 0.8
	// fewBeats hardly tell flicker all through from independent beats, and the prior
	// decides: it must not hold the one for much less likely then. Of more beats the
	// contrasts tell. The number is our own, for intervals that hold in either case.
	fewBeats = 120
)

// judge weighs every kind and strength against the contrasts (a posterior over
// a grid, the level integrated out with the prior 1/a). It reports false for
// fewer than four contrasts. spent counts numbers already fitted to them, and beats
// those that they are of.
func judge(cs []contrast, spent int, beats float64) (mixture, bool) {
	if len(cs)-spent < 4 {
		return mixture{}, false
	}
	m := mixture{freedom: float64(len(cs) - spent)}
	floor := 0.0
	for _, c := range cs {
		floor += c.c * c.c
	}
	if !(floor > 0) {
		// Beats without any scatter: the stamps are coarser than the clock. The
		// caller adds the stamps' step.
		m.centre, m.scale, m.weight = []float64{0}, []float64{0}, []float64{1}
		m.shares[WhitePhase] = 1
		return m, true
	}
	top := 1.0
	for _, c := range cs {
		top = max(top, float64(c.degree))
	}
	laws := powerLaws()
	most := 1 + strengths*len(laws)
	logs, which := make([]float64, 0, most), make([]int, 0, most)
	parts := make([][2]float64, 0, most) // variance of the slope: independent, slow
	m.centre, m.scale = make([]float64, 0, most), make([]float64, 0, most)
	shapes := make([]float64, len(cs))
	try := func(strength float64, law powerLaw, index int, prior float64) {
		sum, logdet := misfit(cs, strength, shapes)
		level := sum / m.freedom
		centre, slow := 0.0, strength*law.slope
		if index == RateWalk && cs[1].degree == 3 && cs[1].share == 1 { // one segment
			centre, slow = meanLessSlope(cs[1].c, strength)
		}
		slow *= level
		m.centre = append(m.centre, centre)
		logs = append(logs, math.Log(prior)-0.5*logdet-0.5*m.freedom*math.Log(sum))
		parts = append(parts, [2]float64{level, slow})
		which = append(which, index)
		m.scale = append(m.scale, math.Sqrt(level+slow))
	}
	try(0, laws[0], WhitePhase, evenPrior)
	for i, law := range laws {
		for j, c := range cs {
			shapes[j] = math.Pow(c.share, law.power) * law.shape(float64(c.degree))
		}
		for j := range strengths {
			// The degree at which slow noise and independent beats are equal.
			at := math.Exp(math.Log(0.7) + (math.Log(4*top)-math.Log(0.7))*float64(j)/(strengths-1))
			prior := law.prior / strengths
			if j == strengths-1 {
				prior += law.through * min(1, fewBeats/beats)
			}
			try(1/law.shape(at), law, i+1, prior)
		}
	}
	m.weigh(logs, parts, which)
	return m, true
}

// misfit returns the sum of the contrasts' squares, each over its variance, and the
// logarithm of the variances' product.
func misfit(cs []contrast, strength float64, shapes []float64) (sum, logdet float64) {
	product := 1.0
	for i, c := range cs {
		s := 1 + strength*shapes[i]
		sum += c.c * c.c / s
		if product *= s; product > 1e200 { // one logarithm for many factors
			logdet += math.Log(product)
			product = 1
		}
	}
	return sum, logdet + math.Log(product)
}

func (m *mixture) weigh(logs []float64, parts [][2]float64, which []int) {
	most := slices.Max(logs)
	var sum, total, white float64
	m.weight = make([]float64, len(logs))
	for i, l := range logs {
		m.weight[i] = math.Exp(l - most)
		sum += m.weight[i]
	}
	for i := range m.weight {
		w := m.weight[i] / sum
		m.weight[i] = w
		white += w * parts[i][0]
		m.shares[WhitePhase] += w * parts[i][0]
		m.shares[which[i]] += w * parts[i][1]
		total += w * (parts[i][0] + parts[i][1])
	}
	m.white = math.Sqrt(white)
	m.log = most + math.Log(sum)
	for i := range m.shares {
		m.shares[i] /= total
	}
}

// mean returns the mean of the slope's contrast, from the line's own.
func (m *mixture) mean() float64 {
	v := 0.0
	for i, c := range m.centre {
		v += m.weight[i] * c
	}
	return v
}

// sd returns the root of the mean variance of the slope's contrast.
func (m *mixture) sd() float64 {
	v, mean := 0.0, m.mean()
	for i, s := range m.scale {
		d := m.centre[i] - mean
		v += m.weight[i] * (s*s + d*d)
	}
	return math.Sqrt(v)
}

// half95 returns the half-width about the mean that holds 95 % of the mixture, by
// bisection.
func (m *mixture) half95() float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: m.freedom}
	mean, wide := m.mean(), t.Quantile(0.975)
	low, high := 0.0, 0.0
	for i, s := range m.scale {
		high = max(high, s*wide+math.Abs(m.centre[i]-mean))
	}
	for range 24 { // to seven digits
		mid := (low + high) / 2
		in := 0.0
		for i, s := range m.scale {
			if m.weight[i] > 1e-6 && s > 0 {
				d := m.centre[i] - mean
				in += m.weight[i] * (t.CDF((mid-d)/s) - t.CDF((-mid-d)/s))
			}
		}
		if in < 0.95 {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}
