package plots

import (
	"math"
	"slices"
	"testing"
)

// TestOutlierSurvives thins a day of beats with one late beat in it.
func TestOutlierSurvives(t *testing.T) {
	const columns = 420
	var points []point
	for i := range 86400 {
		points = append(points, point{float64(i), math.Sin(float64(i))})
	}
	points[54321].y = 40
	points[11111].y = -30
	got := thin(points, columns)
	if len(got) > 2*columns+2 {
		t.Errorf("%d points left, want at most two a column", len(got))
	}
	for _, i := range []int{54321, 11111} {
		if !slices.Contains(got, points[i]) {
			t.Errorf("the outlier %v is gone", points[i])
		}
	}
	if !slices.IsSortedFunc(got, func(a, b point) int { return int(a.x - b.x) }) {
		t.Error("the points are out of order")
	}
	if !slices.Equal(thin(points[:100], columns), points[:100]) {
		t.Error("a short record didn't come back whole")
	}
}
