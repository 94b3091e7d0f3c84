package timebase

import (
	"math"
	"slices"

	"evenbeat/analysis/beat/robust"
)

// A change of level by outOfFamily standard deviations of the others is one of its own,
// and one of doubtful may be. Of runs whose windows' least delays are exponential one in a
// hundred shows the one by chance, and one in eight the other (our own count).
const doubtful, outOfFamily = 4, 9

// parts cuts the windows where their level changes at once by far more than it does
// elsewhere, as when a load on the host makes all messages later from then on. The
// window that has events of both levels is left out: few of them are of the lower. So
// are parts half as long as the longest: there no message was quick. It returns the
// greatest change too, and all windows together where hardly anything would be left.
func parts(ws []window, family float64) (cut [][]window, greatest float64) {
	if len(ws) < 6 || math.IsInf(family, 1) {
		return [][]window{ws}, 0
	}
	most := family * ownScatter(ws)
	todo, longest := [][]window{ws}, 0
	for len(todo) > 0 {
		part := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		at, level, worst := -1, 0.0, most
		for k := range len(part) - 1 {
			if l, j := jump(part, k); math.Abs(j) > worst {
				at, level, worst = k, l, math.Abs(j)
			}
		}
		if at < 0 {
			cut = append(cut, part)
			longest = max(longest, len(part))
			continue
		}
		greatest = max(greatest, math.Abs(level))
		before, after := part[:at+1], part[at+1:]
		if level > 0 {
			before = part[:at]
		} else {
			after = part[at+2:]
		}
		for _, p := range [][]window{before, after} {
			if len(p) > 2 {
				todo = append(todo, p)
			}
		}
	}
	cut = slices.DeleteFunc(cut, func(p []window) bool { return 2*len(p) < longest })
	terms := 0
	for _, p := range cut {
		terms += len(p) - 2
	}
	if terms < 3 || 3*longest < len(ws) {
		return [][]window{ws}, greatest
	}
	return cut, greatest
}

// jump returns by how much the level changes from window k to the next, and the same in
// units of a window's scatter; 0 where it changes by and by: then it changes by much less
// from the two windows before to the two behind than it does farther apart.
func jump(ws []window, k int) (level, normed float64) {
	level, normed = change(ws, k, 4)
	if near, _ := change(ws, k, 2); near/level < 0.5 {
		return 0, 0
	}
	return level, normed
}

// change returns by how much the level changes by the same number of windows on both
// sides, most at the most, and their common slope. It is so 0 for a slope that itself
// changes evenly.
func change(ws []window, k, most int) (level, normed float64) {
	m := min(most, k+1, len(ws)-k-1)
	before, after := m, m
	switch {
	case m > 1:
	case k == 0:
		after = 2
	default:
		before = 2
	}
	a, b := lineSums(ws[k+1-before:k+1]), lineSums(ws[k+1:k+1+after])
	dt := b.mt - a.mt
	level = b.md - a.md - dt*(a.td+b.td)/(a.tt+b.tt)
	return level, level / math.Sqrt(1/float64(before)+1/float64(after)+dt*dt/(a.tt+b.tt))
}

// ownScatter returns the standard deviation of a window by the second differences, whatever
// a few of them are.
func ownScatter(ws []window) float64 {
	var all []float64
	secondDifferences(ws, func(e float64) { all = append(all, math.Abs(e)) })
	return robust.Deviation(all)
}
