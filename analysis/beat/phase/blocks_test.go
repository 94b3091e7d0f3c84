package phase

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The sums of a block, made from two sums over each run without a miss, against
// their definition beat by beat; to float error.
func TestBlockSumsAreTheirDefinition(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 6))
		var b Blocks
		s := Series{Fresh: true}
		flush := func() {
			b.Add(s)
			s.Fresh, s.First, s.Errors, s.Missed = false, s.First+int64(len(s.Errors)), nil, nil
		}
		missed := []float64{0, 0.01, 0.3}[seed%3]
		k := int64(rng.IntN(3)) - 1
		s.First = k
		first, before := k, [2]float64{math.NaN(), math.NaN()}
		var want block
		for range 5000 {
			x := 1e-3 * rng.NormFloat64()
			sign := float64(1 - 2*(k&1))
			if rng.Float64() < missed && k > first {
				before = [2]float64{before[1], math.NaN()}
				s.Missed, s.Errors = append(s.Missed, len(s.Errors)), append(s.Errors, math.NaN())
				k++
				continue
			}
			if s.Errors = append(s.Errors, x); rng.IntN(700) == 0 { // wherever a series ends
				flush()
			}
			want.n, want.k, want.x, want.s = want.n+1, want.k+float64(k-first), want.x+x, want.s+sign
			if d := (before[0]+x)/2 - before[1]; !math.IsNaN(d) {
				want.d, want.nd = want.d+sign*d, want.nd+1
			}
			before = [2]float64{before[1], x}
			k++
		}
		flush()
		var got block
		for i, v := range b.segments[0].blocks {
			v.k += float64(i) * float64(b.Size) * v.n
			got = got.join(v, 0)
		}
		if got.n != want.n || got.k != want.k || got.s != want.s || got.nd != want.nd || math.Abs(got.x-want.x) > 1e-11 || math.Abs(got.d-want.d) > 1e-11 {
			t.Errorf("seed %d: got %+v, want %+v", seed, got, want)
		}
	}
}
