package phase

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evenbeat/analysis/beat/numbering"
)

// Time errors are against a clock whose even beats come late by the offset and odd ones
// early: from the definition, for stretches of any length that begin on either side.
func TestSeriesIsAgainstTheEvenClock(t *testing.T) {
	even := EvenClock{IntervalS: 0.5, OffsetS: 0.003}
	for n := range 9 {
		for first := int64(-1); first <= 2; first++ {
			s := &numbering.Stretch{Segment: numbering.Segment{Number: 2, AfterS: 7}, First: first, N: n}
			for i := range n {
				k := first + int64(i)
				s.Times[i] = float64(k)*0.5 + 0.003*float64(1-2*(k&1)) + 1e-3*float64(i)
			}
			if n > 4 {
				s.Times[4], s.Missed = math.NaN(), []int{4}
			}
			x := even.Series(s)
			if len(x.Errors) != n || x.First != first || x.Segment != 2 || x.AfterS != 7 || !slices.Equal(x.Missed, s.Missed) {
				t.Fatalf("%d beats from %d: %+v", n, first, x)
			}
			for i, got := range x.Errors {
				if missed := i == 4; math.IsNaN(got) != missed || !missed && math.Abs(got-1e-3*float64(i)) > 1e-12 {
					t.Errorf("%d beats from %d: error %d is %g s, want %g", n, first, i, got, 1e-3*float64(i))
				}
			}
		}
	}
}

// However a run is cut into series, the same turns come out, and each is a turn from
// beat 0 of the segment with the mean of what was heard.
func TestTurnsHoweverCut(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 13))
		first, size := int64(rng.IntN(7))-3, 10
		errors := make([]float64, 400)
		for i := range errors {
			if errors[i] = rng.NormFloat64(); rng.Float64() < []float64{0, 0.05, 0.5}[seed%3] {
				errors[i] = math.NaN()
			}
		}
		turns := NewTurns(size)
		var got []int64
		for rest, k := errors, first; len(rest) > 0; {
			n := min(len(rest), 1+rng.IntN(35))
			turns.Add(Series{Fresh: k == first, First: k, Errors: rest[:n]}, func(turn Turn) {
				got = append(got, turn.First)
				n, sum := 0.0, 0.0
				for place := range size {
					v := math.NaN()
					if i := turn.First + int64(place) - first; i >= 0 {
						v = errors[i]
					}
					if v != turn.Errors[place] && !(math.IsNaN(v) && math.IsNaN(turn.Errors[place])) {
						t.Errorf("seed %d: turn from %d has %g at place %d, want %g", seed, turn.First, turn.Errors[place], place, v)
					}
					if !math.IsNaN(v) {
						n, sum = n+1, sum+v
					}
				}
				if 2*n < float64(size) || turn.Whole != (n == float64(size)) || math.Abs(turn.Mean-sum/n) > 1e-12 {
					t.Errorf("seed %d: turn from %d: mean %g of %g beats, whole %v; want %g", seed, turn.First, turn.Mean, n, turn.Whole, sum/n)
				}
			})
			rest, k = rest[n:], k+int64(n)
		}
		if len(got) < 10 {
			t.Errorf("seed %d: %d turns of 40", seed, len(got))
		}
		for _, k := range got {
			if k%int64(size) != 0 {
				t.Errorf("seed %d: a turn begins with beat %d", seed, k)
			}
		}
	}
}
