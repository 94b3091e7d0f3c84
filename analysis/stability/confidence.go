package stability

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// oneSigma is the probability within one standard deviation of a normal
// distribution, the "68 %" of the interval in a Row.
const oneSigma = 0.682689492137086

// EDF returns the equivalent degrees of freedom of the overlapping Allan variance
// of N phase points at averaging factor m, by the closed forms of NIST SP 1065,
// table 5 (white frequency seen quoted and checked against its worked example;
// the others from memory). N must be above 2m and m at least 1; else it is 0.
//
// stride above 1 says that only every stride-th overlapping term counts. Those are the
// terms of a series of every stride-th point, of the same noise.
//
// Flicker phase is apart: see flickerEDF. The table's closed form gives 597 degrees of
// freedom for N = 4096, m = 64, where 400 are counted on simulated noise.
//
// The general edf of C. A. Greenhall and W. J. Riley (2003) is a little smaller:
// for N = 1001, m = 10 and white frequency noise 135.07 against 146.18 here, that
// is, an interval wider by 4 %.
func EDF(noise Noise, points, m, stride int64) float64 {
	if noise == FlickerPhase {
		return flickerEDF(points, m, stride)
	}
	points, m = points/stride, m/stride
	if m < 1 || points <= 2*m {
		return 0
	}
	N, f := float64(points), float64(m)
	edf := 0.0
	switch noise {
	case WhitePhase:
		edf = (N + 1) * (N - 2*f) / (2 * (N - f))
	case WhiteFrequency:
		edf = (3*(N-1)/(2*f) - 2*(N-2)/N) * 4 * f * f / (4*f*f + 5)
	case FlickerFrequency:
		if m == 1 {
			edf = 2 * (N - 2) * (N - 2) / (2.3*N - 4.9)
		} else {
			edf = 5 * N * N / (4 * f * (N + 3*f))
		}
	case RandomWalk:
		if points <= 3 {
			return 1
		}
		edf = (N - 2) / f * ((N-1)*(N-1) - 3*f*(N-1) + 4*f*f) / ((N - 3) * (N - 3))
	}
	return max(0, edf)
}

// flickerTerms is how many terms of its sum flickerEDF works out at least, where there
// are more; the edf is then within 1 % of that of all (TestFlickerEDFThinned).
const flickerTerms = 1024

// flickerEDF returns the equivalent degrees of freedom of every stride-th of the
// overlapping terms under flicker of phase, from the covariance s of terms j apart:
//
//	edf = M·s(0)² / (s(0)² + 2·Σ (1 − j/M)·s(j)²)
//	s(j) = 6c(j) − 4[c(j−m) + c(j+m)] + c(j−2m) + c(j+2m)
//
// over the M terms, as far as they share points. c is the covariance of the phase but
// for a constant and a factor: −ln j, and ln π + γ at j = 0 where the noise reaches up to
// half the sampling frequency, which gives the variance that NIST SP 1065 prints,
// 1.04 + 3 ln πm. Source: C. A. Greenhall and W. J. Riley, "Uncertainty of stability
// variances based on finite differences", 2003, the general edf of NIST SP 1065, 5.4
// (from memory; checked against simulated noise). Their own c(0) is 1.5, which makes the
// edf 6 % smaller at m = 64.
func flickerEDF(points, m, stride int64) float64 {
	if m < 1 || points <= 2*m {
		return 0
	}
	c := func(j int64) float64 {
		if j == 0 {
			return 1.7219 // ln π + Euler's constant
		}
		return -math.Log(math.Abs(float64(j)))
	}
	s := func(j int64) float64 {
		return 6*c(j) - 4*(c(j-m)+c(j+m)) + c(j-2*m) + c(j+2*m)
	}
	terms := (points-2*m-1)/stride + 1
	sum, all := 1.0, s(0)
	add := func(k, times int64) {
		r := s(k*stride) / all
		sum += 2 * float64(times) * (1 - float64(k)/float64(terms)) * r * r
	}
	// Neighbours change fast, and what is farther apart smoothly: there the middle term of
	// a step stands for all of it. A table of all averaging times would take minutes else.
	end := min(terms-1, 3*m/stride)
	first := min(end, flickerTerms)
	for k := int64(1); k <= first; k++ {
		add(k, 1)
	}
	step := 1 + (end-first)/flickerTerms
	for k := first + 1; k <= end; k += step {
		n := min(step, end-k+1)
		add(k+(n-1)/2, n)
	}
	return float64(terms) / sum
}

// Interval returns the ends of the two-sided confidence interval of a deviation
// with edf equivalent degrees of freedom, for a probability p between 0 and 1:
//
//	dev·√(edf/χ²(1/2+p/2)) … dev·√(edf/χ²(1/2−p/2))
//
// It reports false where there is no interval: edf below 1/2, dev or p out of range.
// Source: NIST SP 1065, on χ² and confidence; NIST TN 1337, ch. 12.
func Interval(dev, edf, p float64) (low, high float64, ok bool) {
	if !(edf >= 0.5) || math.IsInf(edf, 0) || !(dev >= 0) || math.IsInf(dev, 0) || !(p > 0 && p < 1) {
		return 0, 0, false
	}
	chi := distuv.ChiSquared{K: edf}
	low = dev * math.Sqrt(edf/chi.Quantile((1+p)/2))
	high = dev * math.Sqrt(edf/chi.Quantile((1-p)/2))
	if math.IsNaN(low) || math.IsNaN(high) || math.IsInf(high, 0) {
		return 0, 0, false
	}
	return low, high, true
}

// setInterval fills in the 68 % interval of OADev, of which only every stride-th
// overlapping term counts, if there is more than one and the noise is known.
func (r *Row) setInterval(points, m, stride int64) {
	if r.OADev == nil || r.N < 2 || r.Noise == "" {
		return
	}
	edf := EDF(r.Noise, points, m, stride)
	low, high, ok := Interval(*r.OADev, edf, oneSigma)
	if !ok {
		return
	}
	r.Edf, r.Low, r.High = &edf, &low, &high
}
