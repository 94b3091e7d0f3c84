package periodic

import (
	"math"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/beat/phase"
	"evenbeat/analysis/beat/robust"
)

const (
	mostPlaces = 1024
	// leastInPlace beats at one place of the turn give a mean.
	leastInPlace = 3
)

// EscapeBeats returns the beats of one turn of the quickest arbor, the escape
// wheel's, or 0 when that is no whole number or too large to fold.
func EscapeBeats(arbors []Arbor) int {
	least := 0.0
	for _, a := range arbors {
		if least == 0 || a.BeatsPerTurn < least {
			least = a.BeatsPerTurn
		}
	}
	if least < 4 || least > mostPlaces || math.Abs(least-math.Round(least)) > 1e-9 {
		return 0
	}
	return int(math.Round(least))
}

// Fold is the epoch folding of the escape wheel's turns, beat by beat: what repeats
// with the turn stays, the rest averages out. Each turn is taken about its own
// mean, so that a wandering rate doesn't get in. A break loses the place on the
// wheel, so that each segment has its own sums; those of the most turns are kept.
type Fold struct {
	cur, best turned
}

// turned is the folded turns of one segment.
type turned struct {
	segment   int
	turns     float64
	whole     float64   // turns without a miss
	n         []float64 // beats at each place in the others
	sum, sum2 []float64
}

func newTurned(segment, beats int) turned {
	return turned{segment: segment, n: make([]float64, beats), sum: make([]float64, beats), sum2: make([]float64, beats)}
}

// NewFold returns a Fold of turns of so many beats.
func NewFold(beats int) *Fold { return &Fold{cur: newTurned(0, beats), best: newTurned(0, beats)} }

// Begin begins a segment.
func (f *Fold) Begin(segment int) {
	if f.cur.turns > f.best.turns {
		f.best = f.cur
	}
	f.cur = newTurned(segment, len(f.cur.n))
}

// Add adds a turn.
func (f *Fold) Add(t phase.Turn) {
	c, mean := &f.cur, t.Mean
	c.turns++
	sum, sum2 := c.sum[:len(t.Errors)], c.sum2[:len(t.Errors)]
	if t.Whole {
		c.whole++
		for i, v := range t.Errors {
			v -= mean
			sum[i] += v
			sum2[i] += v * v
		}
		return
	}
	for i, v := range t.Errors {
		if v == v {
			v -= mean
			c.n[i]++
			sum[i] += v
			sum2[i] += v * v
		}
	}
}

// longest returns the folded turns of the segment with most of them.
func (f *Fold) longest() *turned {
	if f.cur.turns >= f.best.turns {
		return &f.cur
	}
	return &f.best
}

// Turns returns how many turns were folded.
func (f *Fold) Turns() float64 { return f.longest().turns }

// Place is what was heard at one place of the turn.
type Place struct {
	V, U float64 // mean time error in seconds, and its standard uncertainty
	N    float64 // beats taken for one
	// Outliers of them came too far off to be taken for one at first.
	Outliers float64
}

// Known reports whether a place has a mean.
func (p Place) Known() bool { return p.N >= leastInPlace }

// Places returns what was heard at each place of the turn, with the slope (seconds
// a beat, against the even clock) and the difference of tick and tock taken out;
// nil for too few turns.
func (f *Fold) Places(slope float64, outliers *numbering.Outliers) []Place {
	t := f.longest()
	if t.turns < LeastTurns {
		return nil
	}
	size := len(t.n)
	out := make([]Place, size)
	for i := range out {
		p := Place{N: t.whole + t.n[i]}
		if p.Known() {
			m := t.sum[i] / p.N
			p.V = m - slope*(float64(i)-float64(size-1)/2)
			p.U = math.Sqrt(math.Max(0, t.sum2[i]/p.N-m*m) / (p.N - 1))
		}
		out[i] = p
	}
	join(out, outliers.Of(t.segment), t.turns)
	centre(out)
	return out
}

// centre takes the typical time error out of ticks and tocks: the median, which one
// bent tooth doesn't move. Where a turn has an odd number of beats, ticks and tocks
// change place with each turn and are one.
func centre(ps []Place) {
	by := 2 - len(ps)&1
	for first := range by {
		var vs []float64
		for i := first; i < len(ps); i += by {
			if ps[i].Known() {
				vs = append(vs, ps[i].V)
			}
		}
		mid := robust.Median(vs)
		for i := first; i < len(ps); i += by {
			ps[i].V -= mid
		}
	}
}

// repeating is the share of turns from which on outliers at one place are no
// chance: a knock has the same odds at every place.
const repeating = 0.25

// join gives each place whose beats were outliers time after time, in so many turns,
// what these say of it.
func join(ps []Place, outliers []numbering.OutlierPlace, turns float64) {
	if outliers == nil {
		return
	}
	errors := make([]float64, len(ps))
	for i, p := range ps {
		if errors[i] = p.V; !p.Known() {
			errors[i] = math.NaN()
		}
	}
	due := numbering.Expect(errors)
	for i, o := range outliers {
		if o.N < repeating*turns || len(o.Errors) < leastInPlace {
			continue
		}
		mid, spread, share := cluster(o.Errors)
		n := math.Min(share*o.N, turns)
		if n < repeating*turns || n < leastInPlace {
			continue
		}
		p := ps[i]
		v, u := due[i]+mid, math.Max(spread/math.Sqrt(n), p.U)
		if p.Known() {
			// Some came near enough and some didn't: the place lies at the edge of the
			// acceptance window.
			v = (v*n + p.V*p.N) / (n + p.N)
			n += p.N
		}
		ps[i] = Place{V: v, U: u, N: n, Outliers: n}
	}
}

// cluster returns the median of what lies together, its standard deviation, and
// what share of all does.
func cluster(errors []float32) (mid, spread, share float64) {
	v := make([]float64, len(errors))
	for i, e := range errors {
		v[i] = float64(e)
	}
	mid = robust.Median(v)
	for i := range v {
		v[i] = math.Abs(v[i] - mid)
	}
	spread = robust.Deviation(v)
	near := 0.0
	for _, d := range v {
		if d <= 5*spread {
			near++
		}
	}
	return mid, spread, near / float64(len(v))
}
