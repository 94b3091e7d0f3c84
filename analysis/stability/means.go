package stability

import "math"

// meanOf is how many points the shortest mean is of. With fewer, taking them would cost
// time that the rate of a week of beats has not. For the octaves below it the lag-1
// method has points in plenty.
const meanOf = 16

// means holds the means over blocks of meanOf·2^k points of a series. The second
// differences of neighbouring ones are terms of MDEV at that factor, those that share no
// points in their inner sums.
type means struct{ levels []meanLevel }

type meanLevel struct {
	chain  chain
	half   float64 // the first mean of the two that make the next level's
	odd    bool
	square float64 // of the second differences
	n      int64
}

// take takes the mean over the next block of the first level; NaN is one with a gap.
func (s *means) take(mean float64) {
	for k := 0; ; k++ {
		if k == len(s.levels) {
			s.levels = append(s.levels, meanLevel{chain: newChain()})
		}
		l := &s.levels[k]
		if _, z, _ := l.chain.next(mean); z == z {
			l.square += z * z
			l.n++
		}
		if l.odd = !l.odd; l.odd {
			l.half = mean
			return
		}
		mean = (l.half + mean) / 2
	}
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
	gap := st.gapFrom(st.meant)
	for ; st.meant+meanOf <= st.n; st.meant += meanOf {
		mean := math.NaN()
		if end := st.meant + meanOf; gap < end {
			gap = st.gapFrom(end)
		} else {
			x := (*[meanOf]float64)(st.buf[st.meant:])
			var even, odd float64
			for i := 0; i < meanOf; i += 2 {
				even += x[i]
				odd += x[i+1]
			}
			mean = (even + odd) / meanOf
		}
		s.take(mean)
	}
}
