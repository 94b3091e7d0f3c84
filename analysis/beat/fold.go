package beat

import (
	"math"
	"slices"

	"evenbeat/devices/quantity"
)

const (
	mostPlaces = 1024
	// plainTurn is the turn in beats where the escape wheel's is not known: that of
	// a wheel of thirty teeth, and a whole number of ticks and tocks in any case.
	plainTurn = 60
	// leastInPlace beats at one place of the turn give a mean.
	leastInPlace = 3
)

// fold lays the turns of one wheel over each other, beat by beat: what repeats
// with the turn stays, the rest averages out. Each turn is taken about its own
// mean, so that a wandering rate doesn't get in. A break loses the place on the
// wheel, so that each segment has its own folds; the one of most turns is kept.
type fold struct {
	known     bool      // the turn is the escape wheel's
	turn      []float64 // phases of the turn that is filling; NaN = missed or not yet
	place     int
	cur, best turned
	turns     turnMeans
}

// turned is the folded turns of one segment.
type turned struct {
	seg       int
	turns     float64
	whole     float64   // turns without a miss
	n         []float64 // beats at each place in the others
	sum, sum2 []float64
}

func newFold(beatsPerTurn int) *fold {
	f := &fold{known: beatsPerTurn > 0}
	if !f.known {
		beatsPerTurn = plainTurn
	}
	f.turn = make([]float64, beatsPerTurn)
	for _, t := range []*turned{&f.cur, &f.best} {
		t.n, t.sum, t.sum2 = make([]float64, beatsPerTurn), make([]float64, beatsPerTurn), make([]float64, beatsPerTurn)
	}
	return f
}

func (f *fold) add(st *stretch) {
	size := int64(len(f.turn))
	if st.fresh {
		f.place = int(((st.k % size) + size) % size)
		for i := range f.place {
			f.turn[i] = math.NaN()
		}
		f.begin(st)
	}
	k := st.k
	for x := st.x[:st.n]; len(x) > 0; {
		n := copy(f.turn[f.place:], x)
		x, k = x[n:], k+int64(n)
		if f.place += n; f.place == len(f.turn) {
			f.close(k - size)
			f.place = 0
		}
	}
}

// begin begins a segment.
func (f *fold) begin(st *stretch) {
	if f.cur.turns > f.best.turns {
		f.cur, f.best = f.best, f.cur
	}
	f.cur.seg, f.cur.turns, f.cur.whole = st.seg, 0, 0
	clear(f.cur.n)
	clear(f.cur.sum)
	clear(f.cur.sum2)
	f.turns.begin(st.at)
}

// close adds the full turn, whose first beat has number k. One of which less than
// half was heard is left out.
func (f *fold) close(k int64) {
	even, odd := bySide(f.turn)
	n, s := float64(len(f.turn)), even+odd
	whole := s == s
	if !whole {
		n, s = heardOf(f.turn)
	}
	if 2*n < float64(len(f.turn)) {
		return
	}
	mean := s / n
	f.turns.add(k, mean)
	if !f.known {
		return
	}
	c := &f.cur
	c.turns++
	sum, sum2 := c.sum[:len(f.turn)], c.sum2[:len(f.turn)]
	if whole {
		c.whole++
		for i, v := range f.turn {
			v -= mean
			sum[i] += v
			sum2[i] += v * v
		}
		return
	}
	for i, v := range f.turn {
		if v == v {
			v -= mean
			c.n[i]++
			sum[i] += v
			sum2[i] += v * v
		}
	}
}

// heardOf returns how many beats of a turn were heard, and their sum.
func heardOf(turn []float64) (n, s float64) {
	for _, v := range turn {
		if v == v {
			n++
			s += v
		}
	}
	return n, s
}

// longest returns the folded turns of the segment with most of them.
func (f *fold) longest() *turned {
	if f.cur.turns >= f.best.turns {
		return &f.cur
	}
	return &f.best
}

// place is what was heard at one place of the turn: the mean lateness in seconds
// against an even beat, the standard uncertainty of that mean, and how many beats
// it is of.
type place struct {
	v, u float64
	n    float64 // beats taken for one
	torn float64 // of them, those that came too far off to be taken for one at first
}

// places returns what was heard at each place of the turn, with the slope (seconds
// a beat, against the even clock) and the difference of tick and tock taken out;
// nil for too few turns. A place with fewer than leastInPlace beats has an n of as
// many, and no mean.
func (f *fold) places(slope float64, strays *strays) []place {
	t := f.longest()
	if !f.known || t.turns < leastTurns {
		return nil
	}
	size := len(f.turn)
	out := make([]place, size)
	for i := range out {
		p := place{n: t.whole + t.n[i]}
		if p.n >= leastInPlace {
			m := t.sum[i] / p.n
			p.v = m - slope*(float64(i)-float64(size-1)/2)
			p.u = math.Sqrt(math.Max(0, t.sum2[i]/p.n-m*m) / (p.n - 1))
		}
		out[i] = p
	}
	strays.join(out, t.seg, t.turns)
	centre(out)
	return out
}

// centre takes the typical lateness out of ticks and tocks: the median, which one
// bent tooth doesn't move. Where a turn has an odd number of beats, ticks and tocks
// change place with each turn and are one.
func centre(ps []place) {
	by := 2
	if len(ps)&1 != 0 {
		by = 1
	}
	for first := range by {
		var vs []float64
		for i := first; i < len(ps); i += by {
			if ps[i].n >= leastInPlace {
				vs = append(vs, ps[i].v)
			}
		}
		mid := median(slices.Clone(vs))
		for i := first; i < len(ps); i += by {
			ps[i].v -= mid
		}
	}
}

// points returns the places for the figure, with the wave by which t was judged.
func points(ps []place, t *Tooth) []FoldPoint {
	var out []FoldPoint
	for i, p := range ps {
		if p.n < leastInPlace {
			continue
		}
		q := FoldPoint{Place: i, ResidualS: quantity.Value{V: p.v, U: p.u}}
		if t != nil && t.apart != nil {
			q.WaveS = p.v - t.apart[i]
		}
		out = append(out, q)
	}
	return out
}
