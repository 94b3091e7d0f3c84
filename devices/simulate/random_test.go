package simulate

import (
	"math"
	"testing"
)

func TestNumberedDrawsAreNormalAndIndependent(t *testing.T) {
	const n = 50000
	draws := newNumbered(7)
	var sum, sq, lag, last float64
	for k := range int64(n) {
		x := draws.at(streamBeat, k).NormFloat64()
		sum += x
		sq += x * x
		lag += x * last
		last = x
	}
	// Five standard deviations of each: 1/√n of the mean and the lag, √(2/n) of the
	// variance.
	if m := sum / n; math.Abs(m) > 5/math.Sqrt(n) {
		t.Errorf("mean %g, want 0", m)
	}
	if v := sq / n; math.Abs(v-1) > 5*math.Sqrt(2.0/n) {
		t.Errorf("variance %g, want 1", v)
	}
	if r := lag / n; math.Abs(r) > 5/math.Sqrt(n) {
		t.Errorf("neighbours correlate by %g, want 0", r)
	}
}

// A noise that falls as 1/f has no scale: each doubling of the distance adds the
// same to the mean square of a difference. By octaves: those held for at most n
// steps are independent and give 2 each, the longer ones 2·n/2^j, together 2.
func TestFlickerGrowsByTheOctave(t *testing.T) {
	draws := newNumbered(3)
	for _, c := range []struct{ lag, want float64 }{{1, 4}, {16, 12}, {256, 20}} {
		sum := 0.0
		const n = 4000
		for i := range int64(n) {
			// Far apart, so that the terms are nearly independent, and at all places
			// within the longest octave that matters.
			k := i * 4099
			d := draws.flicker(k+int64(c.lag)) - draws.flicker(k)
			sum += d * d
		}
		// A mean of n squares of normal values spreads by √(2/n); 6 of them.
		if got := sum / n; math.Abs(got/c.want-1) > 6*math.Sqrt(2.0/n) {
			t.Errorf("distance %g: mean square %.3f, want %g", c.lag, got, c.want)
		}
	}
}
