package periodic

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// mostPrime is the largest prime factor of a length at which it is transformed as it is. The
// library takes a time in proportion to that factor: half a second for 17,000 beats whose
// number is prime.
const mostPrime = 500

// transform returns the coefficients of the discrete Fourier transform of y, from that of
// frequency 0 to that of half a turn a step.
//
// Where the length n has a large prime factor, the sum is written as a convolution with
// w(k) = exp(−iπk²/n), which lengths of a power of two compute: jk = (j² + k² − (k−j)²)/2.
// Source: Bluestein, IEEE Trans. Audio Electroacoust. 18 (1970), 451, from memory.
func transform(y []float64) []complex128 {
	n := len(y)
	if largestPrime(n) <= mostPrime {
		return fourier.NewFFT(n).Coefficients(nil, y)
	}
	w := make([]complex128, n)
	for k := range int64(n) {
		// k² is reduced first, or the angle of a large k would be lost in rounding.
		sin, cos := math.Sincos(math.Pi * float64(k*k%int64(2*n)) / float64(n))
		w[k] = complex(cos, -sin)
	}
	size := 1 << bits.Len(uint(2*n-2)) // at least 2n−1: the convolution is circular
	a, b := make([]complex128, size), make([]complex128, size)
	for j, v := range y {
		a[j] = complex(v, 0) * w[j]
		back := complex(real(w[j]), -imag(w[j]))
		b[j], b[(size-j)%size] = back, back
	}
	fft := fourier.NewCmplxFFT(size)
	fft.Coefficients(a, a)
	fft.Coefficients(b, b)
	for i := range a {
		a[i] *= b[i] / complex(float64(size), 0)
	}
	fft.Sequence(a, a)
	a = a[:n/2+1]
	for k := range a {
		a[k] *= w[k]
	}
	return a
}

// largestPrime returns the largest prime factor of n; 1 for 1.
func largestPrime(n int) int {
	largest := 1
	for f := 2; f*f <= n; f++ {
		for ; n%f == 0; n /= f {
			largest = f
		}
	}
	return max(largest, n)
}
