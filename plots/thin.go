package plots

import "math"

// point is a place in a plot, in the units of its axes.
type point struct{ x, y float64 }

// thin returns no more than about two points for each of so many columns of the
// picture: the lowest and the highest of each, so that an outlier survives
// however long the record. Points must be in order of x; those that are no
// numbers are left out. Short records come back whole.
func thin(points []point, columns int) []point {
	var sound []point
	for _, p := range points {
		if s := p.x + p.y; !math.IsNaN(s) && !math.IsInf(s, 0) {
			sound = append(sound, p)
		}
	}
	if len(sound) <= 2*columns {
		return sound
	}
	first, last := sound[0].x, sound[len(sound)-1].x
	wide := (last - first) / float64(columns)
	if !(wide > 0) {
		wide = 1
	}
	var kept []point
	for i := 0; i < len(sound); {
		column := math.Floor((sound[i].x - first) / wide)
		lo, hi := i, i
		j := i + 1
		for ; j < len(sound) && math.Floor((sound[j].x-first)/wide) <= column; j++ {
			if sound[j].y < sound[lo].y {
				lo = j
			}
			if sound[j].y > sound[hi].y {
				hi = j
			}
		}
		kept = append(kept, sound[min(lo, hi)])
		if lo != hi {
			kept = append(kept, sound[max(lo, hi)])
		}
		i = j
	}
	return kept
}
