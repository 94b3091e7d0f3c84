package periodic

import (
	"math"
	"slices"
	"testing"
)

// Teeth that all differ have a worst one but no bent one. It is the one of the greatest
// distance, not the one that is known best.
func TestUnevenTeethAreNotBent(t *testing.T) {
	ps := make([]Place, 60)
	for i := range ps {
		ps[i] = Place{V: 1e-3 * math.Sin(float64(i*i)), U: 1e-5, N: 100}
	}
	ps[40].V = 1.5e-3
	ps[7].U = 1e-6
	f := FindTooth(ps, 100, 2)
	if f == nil || f.Kind != ToothWorst || !f.Significant || !slices.Equal(f.Beats, []int{40}) || f.Tooth != 21 {
		t.Fatalf("got %+v, want a worst tooth, 21", f)
	}
}
