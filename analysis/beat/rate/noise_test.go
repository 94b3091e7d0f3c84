package rate

import (
	"math"
	"testing"

	"evenbeat/analysis/beat/phase"
)

// The mixture's half-width against Student's printed factors, when one kind of noise
// is all there is: 2.23 for 10 degrees of freedom (JCGM 100:2008, table G.2), 2.78
// for 4.
func TestHalfWidthIsStudents(t *testing.T) {
	for _, tc := range []struct{ freedom, want float64 }{{10, 2.23}, {4, 2.78}, {50, 2.01}} {
		m := mixture{freedom: tc.freedom, centre: []float64{0}, scale: []float64{3}, weight: []float64{1}}
		if got := m.half95() / 3; math.Abs(got-tc.want) > 0.005 {
			t.Errorf("%g degrees of freedom: %.4f, want %.2f", tc.freedom, got, tc.want)
		}
	}
}

// The contrast of degree one is the least-squares slope; the slope of NIST's data
// set Norris (Statistical Reference Datasets, certified 1.00211681802045) comes
// out through it to float error.
func TestContrastsNorris(t *testing.T) {
	y := []float64{0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2}
	x := []float64{0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5}
	k, v, w := make([]float64, len(x)), make([]float64, len(x)), make([]float64, len(x))
	for i := range x { // the recurrence wants its places in order
		rank := 0
		for j := range x {
			if x[j] < x[i] || (x[j] == x[i] && j < i) {
				rank++
			}
		}
		k[rank], v[rank], w[rank] = x[i], y[i], 1
	}
	ps := newPolynomials(phase.Means{K: k, W: w}, 1)
	cs, kx := ps.contrasts(v, 1, 1)
	if len(cs) != 0 {
		t.Errorf("%d contrasts of degree two and up, want none asked for", len(cs))
	}
	if got := kx / ps.kk; math.Abs(got-1.00211681802045) > 1e-12 {
		t.Errorf("slope %.15f, certified 1.00211681802045", got)
	}
}
