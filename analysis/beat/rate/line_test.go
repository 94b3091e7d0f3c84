package rate

import (
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/analysis/beat/phase"
)

// run makes up the block sums of n beats: a slope in seconds a beat, half a tick–tock
// offset, and independent scatter.
func run(seed uint64, n int, slope, half, scatter float64) *phase.Blocks {
	rng := rand.New(rand.NewPCG(seed, 14))
	s := phase.Series{Fresh: true, Segment: 1}
	for k := range n {
		side := half * float64(1-2*(k&1))
		s.Errors = append(s.Errors, slope*float64(k)+side+scatter*rng.NormFloat64())
	}
	var b phase.Blocks
	b.Add(s)
	return &b
}

// With independent scatter alone, slope and half offset lie within the stated interval
// nearly always, and the share of the other kinds of noise is small. The interval of the
// slope is at most a fifth wider than that of least squares, σ·√12/n^1.5.
func TestLineUnderIndependentScatter(t *testing.T) {
	const n, slope, half, scatter = 3000, 2e-6, 1e-3, 1e-4
	held, heldHalf, wide := 0, 0, 0
	for seed := range uint64(60) {
		b := run(seed, n, slope, half, scatter)
		l, ok := FitLine(b, half, 1e-6, nil)
		if !ok {
			t.Fatalf("seed %d: no line", seed)
		}
		if l.Slope.Covers(slope) {
			held++
		}
		if h, ok := HalfOffset(b, l.White); ok && h.Covers(half) {
			heldHalf++
		}
		if l.Slope.U > 1.2*scatter*math.Sqrt(12)/math.Pow(n, 1.5) {
			wide++
		}
		if math.Abs(l.White/scatter-1) > 0.5 {
			t.Errorf("seed %d: a beat scatters by %g s, want %g", seed, l.White, scatter)
		}
	}
	// Binomial, 60 at 95 %: 57 ± 1.7, three sd down.
	if held < 52 || heldHalf < 52 {
		t.Errorf("%d and %d of 60 intervals hold slope and offset, want 52 at least", held, heldHalf)
	}
	if wide > 20 {
		t.Errorf("%d of 60 intervals are wider than that by a fifth", wide)
	}
}

// 86400·(T₀/T − 1), by hand: T a hundred-thousandth short gains 0.864 s/day.
func TestPerDay(t *testing.T) {
	r := PerDay(0.5, 0.5/(1+1e-5), 1e-6, 1)
	if math.Abs(r.V-0.864) > 1e-9 || math.Abs(r.U-0.1728*(1+2e-5)) > 1e-6 {
		t.Errorf("got %v with u %g, want 0.864 with 0.1728", r.V, r.U)
	}
}
