package uncertainty

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

// Coverage returns the factor K for which ±K·u holds 95 % of the sum of the given
// independent errors, u being their combined standard uncertainty; 1.96 when
// there is none.
//
// A factor of 2 is right only for many errors of similar size. A single dominant
// rectangular error lies wholly within ±1.73 u and 95 % of it within ±1.65 u, and three
// readings need 4.3 u. So the distribution of the sum is computed. The normal and Student
// errors are combined to one Student error, the bell. Each rectangular error then
// convolves its distribution function over ±a, by integration on a grid (JCGM 100:2008,
// G.1.4). The grid keeps K within 1e-3.
//
// The degrees of freedom of the bell are those of its own sources (Welch and
// Satterthwaite, G.4.1), times the standard deviation of the whole over that of the bell.
// Its own alone would make intervals too wide where a limit dominates, because the
// uncertainty of the scatter matters less there. The factor is our own: it is near what
// the expansion of the coverage to first order in 1/ν asks for, 1.32 where bell and limit
// are of one size. With it intervals held the truth in 94.6 to 95.2 %
// (TestCoverageHoldsTruth). The ratio of the variances, which that expansion shows to be
// too much, left 93.9 %.
func Coverage(sources []Source) float64 {
	var rects []float64 // half-widths
	var bell []Source
	var u2 float64
	for _, s := range sources {
		u2 += s.U * s.U
		switch {
		case s.U == 0:
		case s.Shape == Rectangular:
			rects = append(rects, math.Abs(s.U)*math.Sqrt(3))
		default:
			bell = append(bell, s)
		}
	}
	u := math.Sqrt(u2)
	if !(u > 0) || math.IsInf(u, 0) {
		return quantity.Normal95
	}
	slices.SortFunc(rects, func(a, b float64) int { return int(math.Copysign(1, b-a)) })
	var g2 float64
	for _, s := range bell {
		g2 += s.U * s.U
	}
	nu := math.Inf(1)
	if g2 > 0 {
		nu = effectiveDoF(bell) * math.Sqrt(u2/g2)
	}
	// A rectangle a fiftieth as wide as the rest can't be told from a bell.
	for len(rects) > 1 && rects[len(rects)-1] < u/50 {
		a := rects[len(rects)-1]
		g2 += a * a / 3
		rects = rects[:len(rects)-1]
	}
	g := math.Sqrt(g2)
	if len(rects) == 0 {
		return student95(nu) * g / u
	}
	if g < u*1e-4 && len(rects) == 1 {
		return 0.95 * rects[0] / u
	}
	return smeared95(g, nu, rects) / u
}

// student95 is the 97.5 % quantile of Student's distribution, or of the normal.
func student95(nu float64) float64 {
	if math.IsInf(nu, 1) || nu > 1e6 {
		return quantity.Normal95
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(0.975)
}

// gridSteps: 400 steps give K to 1e-4 where all errors are of similar size, and to 1e-3
// where a narrow bell stands on a wide rectangle.
const gridSteps = 400

// smeared95 returns the half-width that holds 95 % of a Student error of scale g
// plus rectangular errors of half-widths a. It works on H(x) = F(x) − 1/2, which
// is odd, for x ≥ 0: H₁(x) = 1/(2a)·∫ H₀ from x−a to x+a = (I(x+a) − I(x−a))/(2a),
// where I, the integral of H₀ from 0, is even.
func smeared95(g, nu float64, a []float64) float64 {
	var sum float64
	for _, w := range a {
		sum += w
	}
	first := 0
	reach := 2 * sum // the 95 % point lies below sum + q·g, and H₀ is needed up to sum beyond it
	if g > 0 {
		reach += student95(nu) * g
	}
	step := reach / gridSteps
	h := make([]float64, gridSteps+1)
	if g > step/4 {
		bellGrid(h, step/g, nu)
	} else { // start with the widest rectangle: the bell is negligible beside it
		first = 1
		for i := range h {
			h[i] = min(float64(i)*step/(2*a[0]), 0.5)
		}
	}
	integral := make([]float64, len(h))
	for _, w := range a[first:] {
		for i := 1; i < len(h); i++ {
			integral[i] = integral[i-1] + step*(h[i-1]+h[i])/2
		}
		for i := range h {
			x := float64(i) * step
			h[i] = (between(integral, (x+w)/step) - between(integral, math.Abs(x-w)/step)) / (2 * w)
		}
	}
	for i := 1; i < len(h); i++ {
		if h[i] >= 0.475 {
			return (float64(i-1) + (0.475-h[i-1])/(h[i]-h[i-1])) * step
		}
	}
	return reach
}

// bellGrid fills h with F(x) − 1/2 of the normal or Student's distribution at
// multiples of step (in units of its scale); the latter by Simpson's rule on its
// density, in pieces of a quarter of the scale at most.
func bellGrid(h []float64, step, nu float64) {
	if math.IsInf(nu, 1) || nu > 1e6 {
		for i := range h {
			h[i] = math.Erf(float64(i)*step/math.Sqrt2) / 2
		}
		return
	}
	top, _ := math.Lgamma((nu + 1) / 2)
	bottom, _ := math.Lgamma(nu / 2)
	scale := math.Exp(top-bottom) / math.Sqrt(nu*math.Pi)
	density := func(x float64) float64 { return scale * math.Pow(1+x*x/nu, -(nu+1)/2) }
	pieces := max(1, int(math.Ceil(step*4)))
	d := step / float64(pieces)
	left := density(0)
	for i := 1; i < len(h); i++ {
		h[i] = h[i-1]
		for k := range pieces {
			x := float64(i-1)*step + float64(k+1)*d
			right := density(x)
			h[i] += d / 6 * (left + 4*density(x-d/2) + right)
			left = right
		}
	}
}

// between interpolates a table at a fractional place. Beyond its end it extrapolates in a
// straight line, as the integral of a saturated distribution does.
func between(table []float64, place float64) float64 {
	i := min(max(int(place), 0), len(table)-2)
	return table[i] + (place-float64(i))*(table[i+1]-table[i])
}
