package stability

import "math"

const (
	// meanOf is how many points the shortest mean is of. For the octaves below it the
	// lag-1 method has points in plenty.
	meanOf = 16
	// Past the first allBlocks blocks, means below a whole block's are taken from runs of
	// oneIn blocks, one run in oneIn: all of them would cost the rate of a week of beats
	// seven parts in a hundred of its time.
	coarseOctave = 5
)

// means holds the means over blocks of meanOf·2^k points of a series. The second
// differences of neighbouring ones are terms of MDEV at that factor, those that share no
// points in their inner sums.
type means struct{ levels []meanLevel }

type meanLevel struct {
	p0, p1 float64 // the last two means, NaN for one with a gap
	odd    bool    // p1 is the first of the two that make the next level's
	square float64 // of the second differences
	n      int64
}

// take takes the means over the next blocks of an octave and uses x up. NaN is a mean
// with a gap. It breaks the octaves below.
func (s *means) take(octave int, x []float64) {
	for k := 0; k < octave || len(x) > 0; k++ {
		if k == len(s.levels) {
			s.levels = append(s.levels, meanLevel{p0: math.NaN(), p1: math.NaN()})
		}
		if k < octave {
			s.levels[k].p0, s.levels[k].p1 = math.NaN(), math.NaN()
			continue
		}
		x = s.levels[k].take(x)
	}
}

// take returns the means of the next level, in the place of its own.
func (l *meanLevel) take(x []float64) []float64 {
	p0, p1, square, n := l.p0, l.p1, l.square, l.n
	for _, v := range x {
		if d := second(p0, p1, v); d == d {
			square += d * d
			n++
		}
		p0, p1 = p1, v
	}
	half := l.p1
	l.p0, l.p1, l.square, l.n = p0, p1, square, n
	up, pairs := 0, x
	if l.odd {
		pairs = x[1:]
		x[0] = (half + x[0]) / 2
		up = 1
	}
	l.odd = len(pairs)&1 != 0
	for ; len(pairs) >= 2; pairs = pairs[2:] {
		x[up] = (pairs[0] + pairs[1]) / 2
		up++
	}
	return x[:up]
}

// at returns the mean square of the second differences at factor m, a power of two, and
// their number.
func (s *means) at(m int64) (square, n float64) {
	for k := range s.levels {
		if l := s.levels[k]; m == meanOf<<k && l.n > 0 {
			return l.square / float64(l.n), float64(l.n)
		}
	}
	return 0, 0
}

// average hands the means of the points not yet averaged to s.
func (st *stage) average(s *means) {
	octave, size := coarseOctave, meanOf<<coarseOctave
	if st.blocks < allBlocks || st.blocks/oneIn%oneIn == 0 {
		octave, size = 0, meanOf
	}
	var room [len(st.buf) / meanOf]float64
	n, gap := 0, st.gapFrom(st.meant)
	for ; st.meant+size <= st.n; st.meant += size {
		if end := st.meant + size; gap < end {
			room[n] = math.NaN()
			gap = st.gapFrom(end)
		} else {
			room[n] = blockMean(st.buf[st.meant:end])
		}
		n++
	}
	s.take(octave, room[:n])
}

// blockMean returns the mean of x, whose length is a multiple of eight. It adds by pairs,
// because a single sum would wait for its own last addition.
func blockMean(x []float64) float64 {
	var a, b float64
	n := len(x)
	for ; len(x) >= 8; x = x[8:] {
		a += (x[0] + x[1]) + (x[2] + x[3])
		b += (x[4] + x[5]) + (x[6] + x[7])
	}
	return (a + b) / float64(n)
}
