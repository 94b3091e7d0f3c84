package periodic

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"evenbeat/analysis/beat/phase"
)

// wobbling makes up the time errors of n beats, with two wheels at fault, some scatter,
// and a share of the beats missed.
func wobbling(rng *rand.Rand, n int, missed float64) phase.Series {
	s := phase.Series{Fresh: true, Segment: 1, First: int64(rng.IntN(5)) - 2}
	for i := range n {
		k := float64(s.First + int64(i))
		x := 3e-4*math.Sin(2*math.Pi*k/60) + 5e-4*math.Sin(2*math.Pi*k/450) + 1e-4*rng.NormFloat64()
		if rng.Float64() < missed {
			s.Missed, x = append(s.Missed, i), math.NaN()
		}
		s.Errors = append(s.Errors, x)
	}
	return s
}

var twoArbors = []Arbor{{Index: 3, Name: "third", BeatsPerTurn: 450}, {Index: 4, Name: "escape", BeatsPerTurn: 60}, {Index: 1, Name: "quick", BeatsPerTurn: 12}}

// Beats taken one by one, which the fast twin declines, and all at once must leave the
// same sums, to the last bit.
func TestFastItemsAsPlain(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 11))
		s := wobbling(rng, 4000, []float64{0, 0.001, 0.1}[seed%3])
		whole, single := NewHarmonics(twoArbors), NewHarmonics(twoArbors)
		whole.Add(s)
		missed := 0
		for i := range s.Errors {
			one := phase.Series{Fresh: i == 0, First: s.First + int64(i), Errors: s.Errors[i : i+1]}
			if missed < len(s.Missed) && s.Missed[missed] == i {
				one.Missed = []int{0}
				missed++
			}
			single.Add(one)
		}
		for i, w := range whole.waves {
			if o := single.waves[i]; w.count != o.count || !reflect.DeepEqual(w.sum, o.sum) || !reflect.DeepEqual(w.power, o.power) {
				t.Errorf("seed %d, %s arbor: %g windows, %v; beat by beat %g, %v", seed, twoArbors[i].Name, w.count, w.sum, o.count, o.sum)
			}
		}
	}
}

// The harmonic regression gives back the amplitudes that went in, and says of a wheel
// without error that it has none.
func TestWheelsOfMadeUpErrors(t *testing.T) {
	s := wobbling(rand.New(rand.NewPCG(1, 12)), 20000, 0.01)
	h := NewHarmonics(twoArbors)
	h.Add(s)
	var b phase.Blocks
	b.Add(s)
	ws := FindWheels(twoArbors, h, &b, 0, 0, 0.5)
	if len(ws) != 3 {
		t.Fatalf("%d wheels, want 3", len(ws))
	}
	for i, want := range []float64{5e-4, 3e-4, 0} {
		if a := ws[i].Amplitude; math.Abs(a.V-want) > 4*a.U || ws[i].Significant != (want > 0) {
			t.Errorf("%s: amplitude %v, significant %v, want %g", ws[i].Name, a, ws[i].Significant, want)
		}
	}
}
