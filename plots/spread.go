package plots

import (
	"slices"

	"evenbeat/analysis/beat"
)

// spread is where the beats of one column of a picture lie: the column's middle in seconds,
// and the earliest, the quarters and the latest in milliseconds.
type spread struct{ at, low, lower, upper, high float64 }

// spreads sorts beats into so many columns of equal width, from nothing to end. A column
// without beats is left out, and so are beats that are no numbers. Of a long run a trace
// holds a regular sample, which alone gives the quarters, and what lies farthest off.
func spreads(trace []beat.TracePoint, end float64, columns int) (all []spread) {
	wide := end / float64(columns)
	if !(wide > 0) {
		wide = 1
	}
	regular, every := make([][]float64, columns), make([][]float64, columns)
	for _, t := range trace {
		if !drawableBeat(t) {
			continue
		}
		i, late := min(int(t.TimeS/wide), columns-1), t.ResidualS*1e3
		every[i] = append(every[i], late)
		if !t.Far {
			regular[i] = append(regular[i], late)
		}
	}
	for i, ys := range every {
		if len(ys) == 0 {
			continue
		}
		s := spread{at: (float64(i) + 0.5) * wide, low: slices.Min(ys), high: slices.Max(ys)}
		if len(regular[i]) > 0 {
			ys = regular[i]
		}
		slices.Sort(ys)
		last := len(ys) - 1
		s.lower, s.upper = ys[(last+2)/4], ys[last-(last+2)/4]
		all = append(all, s)
	}
	return all
}

func drawableBeat(t beat.TracePoint) bool {
	return t.TimeS >= 0 && sound(t.TimeS) && sound(t.ResidualS*1e3)
}
