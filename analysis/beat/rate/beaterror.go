package rate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/analysis/beat/phase"
	"evenbeat/devices/quantity"
)

// HalfOffset returns half the tick–tock offset, in seconds: even beats are late by it,
// odd ones early.
//
// It is from second differences: a joint fit with the line lets a wandering rate leak in
// through every missed beat. The uncertainty comes from the scatter of groups of
// neighbouring beats, so that it holds whatever the noise at the beat's own
// frequency; with few beats from white, the scatter of one beat in seconds. It reports
// false where there were never three beats in a row.
func HalfOffset(b *phase.Blocks, white float64) (half quantity.Value, ok bool) {
	groups := b.Differences(16)
	var sum, n float64
	for _, g := range groups {
		sum, n = sum+g.D, n+g.N
	}
	if n < 2 {
		return quantity.Value{}, false
	}
	mean := sum / n
	half = quantity.Value{V: mean / 2, U: white / math.Sqrt(n)}
	if m := float64(len(groups)); m >= 8 {
		ss := 0.0
		for _, g := range groups {
			e := g.D - mean*g.N
			ss += e * e
		}
		half.U = math.Sqrt(ss*m/(m-1)) / n / 2
		half.K = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: m - 1}.Quantile(0.975)
	}
	return half, true
}
