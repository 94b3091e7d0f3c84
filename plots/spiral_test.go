package plots

import (
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
)

// TestSpiralLength walks the drawn spiral: Archimedes' spiral of n turns between
// two radii is π·n·(inner + outer) long but for a term of the second order in the
// pitch, which over 15 turns of 1 point is under 0.1 %.
func TestSpiralLength(t *testing.T) {
	const inner, outer, turns = 20.0, 35.0, 15.0
	path := spiral(vg.Point{}, inner, outer, 1, turns)
	var length, furthest float64
	from := path[0].Pos
	for _, c := range path[1:] {
		last := from
		for i := 1; i <= 50; i++ {
			s := float64(i) / 50
			at := func(a, b, c, d float64) float64 {
				r := 1 - s
				return r*r*r*a + 3*r*r*s*b + 3*r*s*s*c + s*s*s*d
			}
			x := at(from.X.Points(), c.Control[0].X.Points(), c.Control[1].X.Points(), c.Pos.X.Points())
			y := at(from.Y.Points(), c.Control[0].Y.Points(), c.Control[1].Y.Points(), c.Pos.Y.Points())
			length += math.Hypot(x-last.X.Points(), y-last.Y.Points())
			last.X, last.Y = vg.Points(x), vg.Points(y)
			furthest = max(furthest, math.Hypot(x, y))
		}
		from = c.Pos
	}
	if want := math.Pi * turns * (inner + outer); math.Abs(length/want-1) > 1e-3 {
		t.Errorf("%.2f points long, want %.2f", length, want)
	}
	if math.Abs(furthest-outer) > 0.01 {
		t.Errorf("reaches %.3f points, want %.3f", furthest, outer)
	}
}
