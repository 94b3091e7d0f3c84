package rate

import (
	"math"

	"evenbeat/analysis/beat/phase"
)

// contrast is the part of a segment's time errors that goes with one polynomial,
// orthogonal to all lower ones and of weight one: its variance is that of one
// beat when beats scatter independently, and more the lower the degree when the
// clock wanders.
type contrast struct {
	degree int
	share  float64 // the segment's share of the run's beats
	c      float64 // seconds
}

// mostDegree contrasts of a segment are used: enough to know the scatter to a tenth, and
// all slow enough to show slow noise.
const mostDegree = 60

// polynomials are the orthogonal polynomials for the contrasts of a segment's means. They
// depend on times and weights alone, so that they serve for every trial of a wave.
type polynomials struct {
	n        int
	weighted []float64 // of each degree from 0 on, w·p at the n means
	kk       float64   // Σw(k−k̄)²
	beats    float64   // Σw
}

// newPolynomials returns those of some means up to a degree, by the three-term recurrence
// (Stieltjes); fewer where the means aren't enough.
func newPolynomials(m phase.Means, degrees int) polynomials {
	k, w, n := m.K, m.W, len(m.K)
	ps := polynomials{n: n}
	if n < 2 {
		return ps
	}
	var sw, swk float64
	for i := range n {
		sw += w[i]
		swk += w[i] * k[i]
	}
	ps.beats = sw
	mid := swk / sw
	half := math.Max(k[n-1]-mid, mid-k[0])
	if !(half > 0) {
		return ps
	}
	for i := range n {
		ps.kk += w[i] * (k[i] - mid) * (k[i] - mid)
	}
	ps.weighted = make([]float64, 0, n*(degrees+1))
	t := make([]float64, n)
	before, p := make([]float64, n), make([]float64, n)
	for i := range n {
		t[i] = (k[i] - mid) / half
		p[i] = 1 / math.Sqrt(sw)
	}
	last := 0.0 // norm carried from the step before
	for range degrees + 1 {
		a := 0.0
		for i := range n {
			wp := w[i] * p[i]
			ps.weighted = append(ps.weighted, wp)
			a += wp * p[i] * t[i]
		}
		norm := 0.0
		for i := range n {
			q := (t[i]-a)*p[i] - last*before[i]
			before[i] = p[i]
			p[i] = q
			norm += w[i] * q * q
		}
		norm = math.Sqrt(norm)
		if !(norm > 1e-12) {
			break
		}
		for i := range n {
			p[i] /= norm
		}
		last = norm
	}
	return ps
}

// contrasts returns the contrasts of mean time errors x from degree two up to degrees, and
// Σw(k−k̄)x.
func (ps polynomials) contrasts(x []float64, degrees int, share float64) (out []contrast, kx float64) {
	out = make([]contrast, 0, max(0, degrees-1))
	for degree := 1; degree <= degrees && ps.n*(degree+1) <= len(ps.weighted); degree++ {
		c := 0.0
		for i, wp := range ps.weighted[ps.n*degree : ps.n*(degree+1)] {
			c += wp * x[i]
		}
		if degree == 1 {
			// p is (k−k̄)/√Σw(k−k̄)², so Σw(k−k̄)x = c·√Σw(k−k̄)².
			kx = c * math.Sqrt(ps.kk)
			continue
		}
		out = append(out, contrast{degree: degree, share: share, c: c})
	}
	return out, kx
}
