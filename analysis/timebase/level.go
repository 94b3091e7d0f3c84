package timebase

import (
	"math"
	"slices"

	"evenbeat/analysis/beat/robust"
)

// A change of level by outOfFamily standard deviations of the others is one of its own,
// and one of doubtful may be. Of runs whose windows' least delays are exponential no more
// than one in a hundred shows the one by chance, and one in eight the other (our own
// count).
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
		at, level := greatestJump(part, most)
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

// greatestJump returns the window before the greatest change of level and the change, or
// −1 if none is more than most.
func greatestJump(ws []window, most float64) (at int, level float64) {
	at = -1
	for k := range len(ws) - 1 {
		if l, j := jump(ws, k); math.Abs(j) > most {
			at, level, most = k, l, math.Abs(j)
		}
	}
	return at, level
}

// jump returns by how much the level changes from window k to the next, by up to four
// windows on both sides and their common slope, and the same in units of a window's
// scatter. It is 0 for a slope that itself changes evenly, and where the two windows
// differ by much less than the level: then it changes gradually.
func jump(ws []window, k int) (level, normed float64) {
	m := min(4, k+1, len(ws)-k-1)
	before, after := m, m
	switch {
	case m > 1:
	case k == 0:
		after = 2
	default:
		before = 2
	}
	a, b := lineSums(ws[k+1-before:k+1]), lineSums(ws[k+1:k+1+after])
	dt, slope := b.mt-a.mt, (a.td+b.td)/(a.tt+b.tt)
	level = b.md - a.md - dt*slope
	if near := ws[k+1].d - ws[k].d - slope*(ws[k+1].t-ws[k].t); near/level < atOnce {
		return 0, 0
	}
	return level, level / math.Sqrt(1/float64(before)+1/float64(after)+dt*dt/(a.tt+b.tt))
}

// atOnce is the least share of a level's change that two windows show between them where
// it happens at once. For a slope that changes as a cubic parabola does it is 0.54.
const atOnce = 0.65

// ownScatter returns the standard deviation of a window by the second differences, whatever
// a few of them are.
func ownScatter(ws []window) float64 {
	var all []float64
	secondDifferences(ws, func(e float64) { all = append(all, math.Abs(e)) })
	return robust.Deviation(all)
}
