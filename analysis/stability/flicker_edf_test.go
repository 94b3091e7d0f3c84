package stability

import (
	"math"
	"testing"
)

// Where the sum has many terms, those that are worked out stand for all.
func TestFlickerEDFThinned(t *testing.T) {
	for _, c := range []struct{ points, m, stride int64 }{
		{20_000, 700, 1}, {20_000, 2000, 1}, {100_000, 5000, 1}, {100_000, 30_000, 3}, {100_000, 49_000, 1},
	} {
		// All terms, by the same formula.
		cov := func(j int64) float64 {
			if j == 0 {
				return math.Log(math.Pi) + 0.5772156649
			}
			return -math.Log(math.Abs(float64(j)))
		}
		s := func(j int64) float64 {
			return 6*cov(j) - 4*(cov(j-c.m)+cov(j+c.m)) + cov(j-2*c.m) + cov(j+2*c.m)
		}
		terms := (c.points-2*c.m-1)/c.stride + 1
		sum := 1.0
		for k := int64(1); k < terms && k*c.stride <= 3*c.m; k++ {
			r := s(k*c.stride) / s(0)
			sum += 2 * (1 - float64(k)/float64(terms)) * r * r
		}
		want := float64(terms) / sum
		if got := flickerEDF(c.points, c.m, c.stride); math.Abs(got-want) > 1e-2*want {
			t.Errorf("%+v: edf %g, want %g", c, got, want)
		}
	}
}
