package stability

import (
	"math"
	"math/bits"
)

// stage holds phases that are 2^j beats apart. The first stage sums the factors
// 1 to thinAbove, the others thinAbove alone: theirs is thinAbove·2^j beats.
type stage struct {
	buf    [history + blockLen]float64 // a gap holds the last phase before it, or 0
	gone   [(history + blockLen) / 64]uint64
	n      int  // points in buf
	done   int  // of them, those summed
	handed int  // of them, those offered to the next stage
	meant  int  // of them, those averaged
	odd    bool // the next to be offered is left out
	sums   [octaves]float64
	terms  [octaves]int64

	blocks int64 // summed and gone
	lag    lagSums
}

// newStage returns a stage whose points before the first are gaps.
func newStage() *stage {
	return &stage{n: history, done: history, handed: history, meant: history, gone: [(history + blockLen) / 64]uint64{math.MaxUint64}}
}

// mark makes a gap of point i.
func (st *stage) mark(i int) { st.gone[i>>6] |= 1 << (i & 63) }

func (st *stage) gap(i int) bool { return st.gone[i>>6]>>(i&63)&1 != 0 }

// gapFrom returns the first gap at i or after it, len(buf) for none.
func (st *stage) gapFrom(i int) int {
	for w := i >> 6; w < len(st.gone); w++ {
		b := st.gone[w]
		if w == i>>6 {
			b &= math.MaxUint64 << (i & 63)
		}
		if b != 0 {
			return w<<6 | bits.TrailingZeros64(b)
		}
	}
	return len(st.buf)
}

// sum sums the terms that end with the points not yet done.
func (st *stage) sum(all bool) {
	if st.done < st.n {
		var sums [octaves]float64
		low := octaves - 1
		if all {
			low = 0
			sums = squaresOfAll(st.buf[st.done-history : st.n])
		} else {
			sums[low] = squaresOf(st.buf[st.done-history : st.n])
		}
		for level := low; level < octaves; level++ {
			sum, n := st.leaveOut(level, sums[level])
			st.sums[level] += sum
			st.terms[level] += n
		}
	}
	if st.blocks < allBlocks {
		st.sumLags()
	} else if st.blocks%oneIn == 0 {
		st.sampleLags()
	}
	st.done = st.n
}

// mostOff is the largest ratio of what is subtracted from a sum to the rest. It costs two
// digits of sixteen.
const mostOff = 100

// leaveOut subtracts the terms with a gap from the sum of all terms of a level, each once
// by the first of its gaps. It returns the rest and its number of terms. Where so much is
// subtracted that digits are lost, it sums the terms without gaps instead.
func (st *stage) leaveOut(level int, all float64) (sum float64, terms int64) {
	m := 1 << level
	off, n := 0.0, int64(st.n-st.done)
	out := func(end int) {
		d := second(st.buf[end-2*m], st.buf[end-m], st.buf[end])
		off += d * d
		n--
	}
	for g := st.gapFrom(st.done - 2*m); g < st.n; g = st.gapFrom(g + 1) {
		if g >= st.done {
			out(g)
		}
		if end := g + m; end >= st.done && end < st.n && !st.gap(end) {
			out(end)
		}
		if end := g + 2*m; end >= st.done && end < st.n && !st.gap(end) && !st.gap(end-m) {
			out(end)
		}
	}
	if sum = all - off; off <= mostOff*sum {
		return sum, n
	}
	sum = 0
	for i := st.done; i < st.n; i++ {
		if !st.gap(i) && !st.gap(i-m) && !st.gap(i-2*m) {
			d := second(st.buf[i-2*m], st.buf[i-m], st.buf[i])
			sum += d * d
		}
	}
	return sum, n
}

// makeRoom keeps the points that later terms reach back to.
func (st *stage) makeRoom() {
	copy(st.buf[:history], st.buf[blockLen:])
	last := st.gone[blockLen/64]
	clear(st.gone[:])
	st.gone[0] = last
	st.n, st.done, st.handed = history, history, history
	st.meant -= blockLen
	st.blocks++
}

// second returns the second difference. It multiplies by −2 and adds, because additions
// are what takes the time here.
func second(a, b, c float64) float64 { return c + -2*b + a }

// squaresOfAll returns for each level the sum of the squares of the second differences
// that end with the points of x from the history-th on.
func squaresOfAll(x []float64) [octaves]float64 {
	var s0, s1, s2, s3, s4, s5 float64
	for ; len(x) > history; x = x[1:] {
		v := (*[history + 1]float64)(x)
		c := v[history]
		d0 := second(v[history-2], v[history-1], c)
		d1 := second(v[history-4], v[history-2], c)
		d2 := second(v[history-8], v[history-4], c)
		d3 := second(v[history-16], v[history-8], c)
		d4 := second(v[history-32], v[history-16], c)
		d5 := second(v[history-64], v[history-32], c)
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
		s3 += d3 * d3
		s4 += d4 * d4
		s5 += d5 * d5
	}
	return [octaves]float64{s0, s1, s2, s3, s4, s5}
}

// squaresOf returns the last level's sum alone. There are four partial sums, because a
// single one would wait for its own last addition.
func squaresOf(x []float64) float64 {
	var s0, s1, s2, s3 float64
	for ; len(x) >= history+4; x = x[4:] {
		v := (*[history + 4]float64)(x)
		d0 := second(v[0], v[thinAbove], v[history])
		d1 := second(v[1], v[thinAbove+1], v[history+1])
		d2 := second(v[2], v[thinAbove+2], v[history+2])
		d3 := second(v[3], v[thinAbove+3], v[history+3])
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
		s3 += d3 * d3
	}
	for ; len(x) > history; x = x[1:] {
		d := second(x[0], x[thinAbove], x[history])
		s0 += d * d
	}
	return s0 + s1 + s2 + s3
}

// sumLags adds the new points' differences of first, second and third order.
func (st *stage) sumLags() {
	if st.lag.based && st.done < st.n && st.gapFrom(st.done-3) >= st.n {
		st.lag.add(lags(st.buf[st.done-3:st.n], st.lag.base))
		return
	}
	// The beginning of the series, or a gap: each difference is looked at.
	c := newChain()
	for i := st.done - 3; i < st.n; i++ {
		v := st.buf[i]
		if st.gap(i) {
			v = math.NaN()
		}
		if y, z, w := c.next(v); i >= st.done {
			st.lag.take(y, z, w)
		}
	}
}

// sampleLags adds those of the new points' differences that lie among points
// without a gap, sixteen at a time.
func (st *stage) sampleLags() {
	const run = 16
	for i := st.done; i+run <= st.n && st.lag.based; i += run {
		if st.gapFrom(i-3) >= i+run {
			st.lag.add(lags(st.buf[i-3:i+run], st.lag.base))
		}
	}
}

// lags returns the sums over x, without a gap, from its fourth point on.
func lags(x []float64, base float64) lagSums {
	y0 := x[1] - x[0]
	y1 := x[2] - x[1]
	z1, last := y1-y0, x[2]
	y1 -= base
	var y, yy, zz, ww float64
	for _, v := range x[3:] {
		y2 := v - last - base
		z2 := y2 - y1
		w := z2 - z1
		y += y2
		yy += y2 * y2
		zz += z2 * z2
		ww += w * w
		last, y1, z1 = v, y2, z2
	}
	n := int64(len(x) - 3)
	return lagSums{n: n, nz: n, nw: n, y: y, yy: yy, zz: zz, ww: ww}
}
