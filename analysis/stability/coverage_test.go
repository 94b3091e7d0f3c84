package stability

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// kinds are the five noises. Their phase is white noise summed order times, and its
// spectrum goes as f^−2·order.
var kinds = []struct {
	noise Noise
	order float64
}{{WhitePhase, 0}, {FlickerPhase, 0.5}, {WhiteFrequency, 1}, {FlickerFrequency, 1.5}, {RandomWalk, 2}}

// weights returns the first n weights of a sum of any order, those of (1 − B)^−order, B
// the step back. Source: N. J. Kasdin, "Discrete simulation of colored noise and
// stochastic processes and 1/f^α power law noise generation", Proc. IEEE 83 (1995) 802
// (from memory).
func weights(order float64, n int) []float64 {
	h := make([]float64, n)
	h[0] = 1
	for k := 1; k < n; k++ {
		h[k] = h[k-1] * (float64(k) - 1 + order) / float64(k)
	}
	return h
}

// powerLaw returns a source of series of n phases of white noise summed order times,
// after a past of as many.
func powerLaw(n int, order float64) func(seed uint64) []float64 {
	fft := fourier.NewFFT(4 * n) // 2n of noise and as much of nothing: a product of transforms is circular
	w := make([]float64, 4*n)
	copy(w, weights(order, 2*n))
	h := fft.Coefficients(nil, w)
	return func(seed uint64) []float64 {
		rng := rand.New(rand.NewPCG(seed, 9))
		clear(w)
		for i := range 2 * n {
			w[i] = rng.NormFloat64() / float64(4*n)
		}
		c := fft.Coefficients(nil, w)
		for i := range c {
			c[i] *= h[i]
		}
		return fft.Sequence(nil, c)[n : 2*n]
	}
}

// trueAllan returns the Allan deviation at factor m of white noise summed order times,
// and the equivalent degrees of freedom of all overlapping terms of n points: the sums
// over the covariance of the terms, from the second differences of the weights.
func trueAllan(order float64, n, m int) (dev, edf float64) {
	h := weights(order, 1<<15)
	at := func(i int) float64 { return h[max(i, 0)] * float64(min(max(i+1, 0), 1)) } // 0 before the first
	g := make([]float64, len(h))
	for i := range g {
		g[i] = at(i) - 2*at(i-m) + at(i-2*m)
	}
	covariance := func(lag int) (sum float64) {
		for i, v := range g[lag:] {
			sum += v * g[i]
		}
		return sum
	}
	all, terms := covariance(0), n-2*m
	sum := 1.0
	for j := 1; j < min(terms, 8*m); j++ {
		r := covariance(j) / all
		sum += 2 * (1 - float64(j)/float64(terms)) * r * r
	}
	return math.Sqrt(all/2) / float64(m), float64(terms) / sum
}

// TestCoverage: the 68 % intervals hold the true deviation, and the noise is named right,
// at m = 1, 8 and 64 of 4096 points of each noise. The table, and the family and stream
// where they thin their terms.
func TestCoverage(t *testing.T) {
	const points = 4096
	choice, _ := ParseTaus("1,8,64")
	ways := []struct {
		name   string
		shares float64 // the seeds in which the noise is named right, at the least
		rows   func(x []float64) []Row
	}{
		{"table", 0.97, func(x []float64) []Row { r, _ := Table(x, Phase, 1, choice); return r.Rows }},
		{"family", 0.97, func(x []float64) []Row { f, _ := NewFamily(choice); f.Add(x); r, _ := f.Result(1, 1, 0); return r.Rows }},
		{"stream", 0.85, func(x []float64) []Row { s, _ := NewStream(1); s.AddAll(x, 0); return s.Rows() }},
	}
	for _, k := range kinds {
		for _, m := range []int{1, 8, 64} {
			dev, edf := trueAllan(k.order, points, m)
			low, high, _ := Interval(1, edf, oneSigma)
			for _, way := range ways {
				if way.name != "table" && m <= thinAbove {
					continue // the same sums
				}
				t.Run(fmt.Sprintf("%s m %d %s", k.noise, m, way.name), func(t *testing.T) {
					t.Parallel()
					series := powerLaw(points, k.order)
					var runs, named float64
					held.Count(t, held.Cell{What: "Allan deviation, 68 %, " + way.name, Kind: string(k.noise), Length: fmt.Sprintf("m = %d of %d", m, points),
						Unit: "of itself", Ideal: (high - low) / 2, Low: 63, Up: 73,
						Run: func(seed uint64) (quantity.Value, float64, error) {
							for _, r := range way.rows(series(seed)) {
								if r.TauS != float64(m) || r.Low == nil {
									continue
								}
								runs++
								if r.Noise == k.noise {
									named++
								}
								// K·U is half the interval, which isn't even about the figure.
								return quantity.Value{V: (*r.High + *r.Low) / 2 / dev, U: (*r.High - *r.Low) / 2 / dev, K: 1}, 1, nil
							}
							return quantity.Value{}, 0, fmt.Errorf("no interval at m = %d", m)
						}})
					if named < way.shares*runs-1 {
						t.Errorf("named right in %v of %v", named, runs)
					}
				})
			}
		}
	}
}

// TestFlickerEDF: the degrees of freedom of flicker of phase against those of noise that
// is white noise summed half a time. That reaches beyond half the sampling frequency, and
// so has a little more of them. The table of NIST SP 1065 is far off.
func TestFlickerEDF(t *testing.T) {
	for _, c := range []struct{ points, m int }{{300, 1}, {300, 8}, {300, 64}, {4096, 1}, {4096, 8}, {4096, 64}, {4096, 128}} {
		_, want := trueAllan(0.5, c.points, c.m)
		if got := EDF(FlickerPhase, int64(c.points), int64(c.m), 1); got < 0.87*want || got > 1.08*want {
			t.Errorf("%d points, m %d: %.1f degrees of freedom, want %.1f", c.points, c.m, got, want)
		}
	}
}
