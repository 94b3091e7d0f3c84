package stability

import (
	"math"
	"testing"
)

// Means of a whole block and more are taken everywhere, shorter ones from the first
// blocks and from one run in eight after that.
func TestMeansAreTheirDefinition(t *testing.T) {
	const n = 300*blockLen + 77
	for _, gap := range []int{0, 4001} {
		x := phases(11, n, gap)
		s, err := NewStream(0.5)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range x {
			s.Add(v)
			if i%30011 == 0 {
				s.Rows() // looking must change nothing
			}
		}
		s.Rows()
		for m := meanOf; m <= 16*blockLen; m *= 2 {
			sum, terms := 0.0, 0
			for i := 0; i+3*m <= n; i += m {
				a, b := i/blockLen, (i+3*m-1)/blockLen
				if m < blockLen && !(b < allBlocks || a/oneIn%oneIn == 0 && a/oneIn == b/oneIn) {
					continue
				}
				if d := blockMean(x[i:i+m]) - 2*blockMean(x[i+m:i+2*m]) + blockMean(x[i+2*m:i+3*m]); !math.IsNaN(d) {
					sum += d * d
					terms++
				}
			}
			square, got := s.means.at(int64(m))
			if want := sum / float64(terms); got != float64(terms) || math.Abs(square-want) > 1e-6*want {
				t.Errorf("gap %d, m %d: got %g of %g, want %g of %d", gap, m, square, got, want, terms)
			}
		}
	}
}
