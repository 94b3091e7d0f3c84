// Package periodic finds what repeats in the time errors of a clock's beats: with the
// turns of the wheels of its train, with the teeth of its escape wheel, and, where the
// train isn't known, with any period.
package periodic

import (
	"math"
	"math/cmplx"

	"evenbeat/analysis/beat/phase"
)

// sincosOf returns the sine and the cosine of an angle in turns. Whole turns are taken
// off, so that after a million of them the angle has its digits still.
func sincosOf(turns float64) (sin, cos float64) {
	return math.Sincos(2 * math.Pi * (turns - math.Floor(turns)))
}

// raisedCosine is the window over u from 0 to 1, of mean 1.
func raisedCosine(u float64) float64 { return 1 - math.Cos(2*math.Pi*u) }

// raised returns the means with their weights under a raised cosine.
func raised(m phase.Means) phase.Means {
	w, span := make([]float64, len(m.W)), m.Span()
	for i, k := range m.K {
		w[i] = m.W[i] * raisedCosine((k-m.K[0])/span)
	}
	m.W = w
	return m
}

// sinusoid returns the complex amplitude at frequency f, in turns a beat, of means with
// raised weights, by least squares beside a straight line.
func sinusoid(m phase.Means, f float64) (complex128, bool) {
	// Normal equations of 1, u, cos, sin, solved by elimination.
	var eq [4][5]float64
	span := m.Span()
	for i, k := range m.K {
		u := (k - m.K[0]) / span
		weight := m.W[i]
		s, c := sincosOf(f * (k - m.K[0]))
		row := [5]float64{1, u - 0.5, c, s, m.X[i]}
		for a := range 4 {
			for b := range 5 {
				eq[a][b] += weight * row[a] * row[b]
			}
		}
	}
	for a := range 4 {
		if !(eq[a][a] > 0) {
			return 0, false
		}
		for b := a + 1; b < 4; b++ {
			q := eq[b][a] / eq[a][a]
			for c := a; c < 5; c++ {
				eq[b][c] -= q * eq[a][c]
			}
		}
	}
	s := eq[3][4] / eq[3][3]
	c := (eq[2][4] - eq[2][3]*s) / eq[2][2]
	v := complex(c, s)
	return v, !cmplx.IsNaN(v) && !cmplx.IsInf(v)
}
