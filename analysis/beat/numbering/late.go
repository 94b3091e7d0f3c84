package numbering

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// lateReach is how far from where a beat is due an event may lie, as a share of the
	// interval, to be that beat if none came nearer: beyond it lie echoes and knocks.
	lateReach = 0.1
	// byChance is how likely it may be that as many events lie by chance where no other
	// was heard, for them to be echoes and knocks beside beats that were missed.
	byChance = 0.01
)

// place looks for the beats between the last one and the one that is so many ahead and off
// by end, among the events since that fell in no window. For each beat, the event nearest
// to when it was due is that beat, late or early, if it came near enough. The others are
// spurious.
//
// A beat so far off scatters by six times what the others do or more, and its weight in
// a mean would be a thirty-sixth of theirs or less. It is left out of the sums.
func (t *tracker) place(ahead int64, end float64) {
	var found [mostOff]candidate
	for _, at := range t.unplaced {
		n, err := t.loop.nearest(at)
		switch {
		case n >= ahead:
			t.beside(err)
		case math.Abs(err) >= lateReach*t.loop.interval || found[n].waits && math.Abs(err) >= math.Abs(found[n].err):
			t.Spurious++
		default:
			if found[n].waits {
				t.Spurious++
			}
			found[n] = candidate{waits: true, k: t.loop.k + n, t: at, err: err}
		}
	}
	t.unplaced = t.unplaced[:0]
	for n, c := range found[:min(ahead, mostOff)] {
		if !c.waits {
			continue
		}
		if c.err > 0 {
			t.Late++
		} else {
			t.Early++
		}
		t.outliers.add(t.out.segment.Number, c.k, c.err*t.tickS, end*float64(n)/float64(ahead)*t.tickS)
		t.number(c, true)
	}
}

// beside takes a spurious event with its time error against a beat that was heard.
func (t *tracker) beside(err float64) {
	t.Spurious++
	if err = math.Abs(err); err > t.loop.window && err < lateReach*t.loop.interval {
		t.extra++
	}
}

// settled returns the tally with the late beats as such, or as missed ones with a spurious
// event beside them.
//
// Echoes and knocks come beside beats heard and missed alike. If that is what all are,
// then of all events beside a beat the share that lies beside missed ones is the share of
// beats missed, and their number is binomial (the test of two Poisson rates of
// J. Przyborowski and H. Wilenski, "Homogeneity of results in testing samples from Poisson
// series", Biometrika 31 (1940) 313; from memory).
func (t *tracker) settled() Tally {
	out, late := t.Tally, t.Late+t.Early
	if late == 0 || t.extra == 0 {
		return out
	}
	gaps := float64(late + t.Missed)
	b := distuv.Binomial{N: float64(late + t.extra), P: gaps / float64(t.Beats+t.Missed)}
	if 1-b.CDF(float64(late-1)) > byChance {
		out.Beats, out.Missed, out.Spurious = t.Beats-late, t.Missed+late, t.Spurious+late
		out.Late, out.Early = 0, 0
	}
	return out
}
