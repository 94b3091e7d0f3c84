package rate

import (
	"math"
	"testing"
)

// Means are joined when there are many, and windows never cross a break.
func TestMeansOfTurnsJoin(t *testing.T) {
	var m Windows
	const ref, slope = 0.5, 3e-6
	for seg, turns := range []int{700, 900} {
		m.Begin(float64(seg) * 1e5)
		for i := range turns {
			k := int64(i) * 60
			m.Add(k, float64(seg)+slope*float64(k))
		}
	}
	if len(m.means) > mostMeans || m.joined != 4 {
		t.Errorf("%d means of %d turns, want at most %d of 4", len(m.means), m.joined, mostMeans)
	}
	ws := m.windows(ref)
	if len(ws) < 30 {
		t.Fatalf("%d windows", len(ws))
	}
	for _, w := range ws {
		if math.Abs(w.slope-slope) > 1e-12 {
			t.Errorf("a window at %g s has the slope %g, want %g: it crosses the break", w.at, w.slope, slope)
		}
	}
}
