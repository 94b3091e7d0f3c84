package robust

import (
	"math"
	"testing"
)

func TestMedianAndDeviation(t *testing.T) {
	for _, tc := range []struct {
		v    []float64
		want float64
	}{{nil, 0}, {[]float64{3}, 3}, {[]float64{9, 1, 2}, 2}, {[]float64{4, 1, 100, 2}, 3}} {
		if got := Median(tc.v); got != tc.want {
			t.Errorf("median %g of %v, want %g", got, tc.v, tc.want)
		}
	}
	// The quartiles of a normal distribution lie 0.6745 standard deviations off.
	if got := Deviation([]float64{0.1, 0.6745, 50}); math.Abs(got-1) > 1e-4 {
		t.Errorf("deviation %g, want 1", got)
	}
}
