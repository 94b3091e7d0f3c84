package beat

import (
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// fractional returns n values of flicker by a half-order sum of white noise: the
// weights are those of (1−B)^(−1/2), from h₀ = 1 by h[k] = h[k−1](k−1/2)/k. Source:
// N. J. Kasdin, "Discrete simulation of colored noise and stochastic processes and
// 1/f^α power law noise generation", Proc. IEEE 83 (1995) 802 (from memory). The
// noise before the first value is as long as the run.
func fractional(rng *rand.Rand, n int, white float64) []float64 {
	size := 1
	for size < 4*n { // 2n of noise and as much of nothing: a product of transforms is circular
		size *= 2
	}
	fft := fourier.NewFFT(size)
	h, w := make([]float64, size), make([]float64, size)
	h[0] = 1
	for k := 1; k < 2*n; k++ {
		h[k] = h[k-1] * (float64(k) - 0.5) / float64(k)
	}
	for i := range 2 * n {
		w[i] = white * rng.NormFloat64()
	}
	a, b := fft.Coefficients(nil, h), fft.Coefficients(nil, w)
	for i := range a {
		a[i] *= b[i]
	}
	x := fft.Sequence(nil, a)[n : 2*n]
	for i := range x {
		x[i] /= float64(size)
	}
	return x
}
