package periodic

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// The coefficients are the sum itself, to within what rounding makes of the strongest.
func TestTransform(t *testing.T) {
	for _, n := range []int{1, 2, 256, 257, 1000, 1009, 2 * 1009} {
		r := rand.New(rand.NewPCG(uint64(n), 0))
		y := make([]float64, n)
		for i := range y {
			y[i] = r.NormFloat64() + float64(i)
		}
		got, most := transform(y), 0.0
		if len(got) != n/2+1 {
			t.Fatalf("%d: %d coefficients", n, len(got))
		}
		for k := range got {
			var want complex128
			for j, v := range y {
				sin, cos := math.Sincos(2 * math.Pi * float64(j*k%n) / float64(n))
				want += complex(v*cos, -v*sin)
			}
			if most = max(most, cmplx.Abs(want)); cmplx.Abs(got[k]-want) > 1e-13*most {
				t.Errorf("%d: coefficient %d is %v, want %v", n, k, got[k], want)
			}
		}
	}
}

func TestLargestPrime(t *testing.T) {
	for n, want := range map[int]int{1: 1, 2: 2, 4: 2, 12: 3, 97: 97, 2 * 97: 97, 49: 7, 1 << 15: 2, 32749: 32749} {
		if got := largestPrime(n); got != want {
			t.Errorf("largest prime factor of %d is %d, want %d", n, got, want)
		}
	}
}

// Beats whose number is a power of two, and those whose number is prime.
func BenchmarkTransform(b *testing.B) {
	for _, n := range []int{16384, 17299, 32749, 32768} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			y := make([]float64, n)
			for b.Loop() {
				transform(y)
			}
		})
	}
}
