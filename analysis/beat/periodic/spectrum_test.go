package periodic

import (
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/analysis/beat/phase"
)

// What repeats in the last digits of the sums is no error of a clock. The same a million
// times as large is one.
func TestDigitsAreNoPeriod(t *testing.T) {
	for scale, want := range map[float64]int{1e-13: 0, 1e-7: 1} {
		rng := rand.New(rand.NewPCG(1, 13))
		s := phase.Series{Fresh: true}
		for k := range 3600 {
			s.Errors = append(s.Errors, scale*(math.Sin(2*math.Pi*float64(k)/9.03)+0.1*rng.NormFloat64()))
		}
		var p Spectrum
		p.Add(s)
		if got := p.Periods(0, 1, 1); len(got) != want {
			t.Errorf("of %g s: periods %+v, want %d", scale, got, want)
		}
	}
}
