package periodic

import (
	"testing"
)

// Sorting asks a comparator to say equal of equals, and the opposite when asked the
// other way round.
func TestPeaksCompareInOrder(t *testing.T) {
	values := []float64{2, 1, 2, 3, 3}
	for i, a := range values {
		for j, b := range values {
			p, q := peak{f: float64(i), ratio: a}, peak{f: float64(j), ratio: b}
			v, w := tone{f: p.f, amp: a}, tone{f: q.f, amp: b}
			if x, y := byRatio(p, q), byRatio(q, p); x != -y || (x == 0) != (i == j) {
				t.Errorf("peaks %+v and %+v compare as %d, the other way round as %d", p, q, x, y)
			}
			if x, y := byAmplitude(v, w), byAmplitude(w, v); x != -y || (x == 0) != (i == j) {
				t.Errorf("tones %+v and %+v compare as %d, the other way round as %d", v, w, x, y)
			}
		}
	}
}
