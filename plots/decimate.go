package plots

import "math"

// point is a place in a plot, in the units of its axes.
type point struct{ x, y float64 }

// thin returns about two points for each of so many columns of the picture, the lowest and
// the highest, so that an outlier survives in any record. Points must be in order of x.
// Those that are no numbers are left out. Short records come back whole.
func thin(points []point, columns int) []point {
	var usable []point
	for _, p := range points {
		if sound(p.x) && sound(p.y) {
			usable = append(usable, p)
		}
	}
	if len(usable) <= 2*columns {
		return usable
	}
	first, last := usable[0].x, usable[len(usable)-1].x
	wide := (last - first) / float64(columns)
	if !(wide > 0) {
		wide = 1
	}
	var kept []point
	for i := 0; i < len(usable); {
		column := math.Floor((usable[i].x - first) / wide)
		lo, hi := i, i
		j := i + 1
		for ; j < len(usable) && math.Floor((usable[j].x-first)/wide) <= column; j++ {
			if usable[j].y < usable[lo].y {
				lo = j
			}
			if usable[j].y > usable[hi].y {
				hi = j
			}
		}
		kept = append(kept, usable[min(lo, hi)])
		if lo != hi {
			kept = append(kept, usable[max(lo, hi)])
		}
		i = j
	}
	return kept
}
