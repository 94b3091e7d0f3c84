package beat

import "math"

// block holds the sums of neighbouring beats. Sums add, so that two blocks make
// one of twice the length.
type block struct {
	n  float64 // beats heard
	k  float64 // sum of their numbers, from the block's own first
	x  float64 // sum of their phases, seconds
	s  float64 // beats of even number less those of odd
	d  float64 // sum of second differences of the phase, with the middle beat's sign
	nd float64 // how many
}

// segment is a run of blocks over which the numbers of the beats are sure.
type segment struct {
	seg    int
	first  int64 // number of the first beat of blocks[0], a multiple of the block's length
	blocks []block
	before [2]float64 // phases of the last two beats
}

const (
	mostBlocks   = 512
	mostSegments = 256
)

// blocks sums a whole run into at most mostBlocks blocks, whatever its length:
// when there are too many, neighbours are joined.
type blocks struct {
	size     int64 // beats a block
	segments []segment
	total    int   // blocks in all
	dropped  int64 // beats of segments too short and too many to keep
}

func (b *blocks) add(st *stretch) {
	if b.size == 0 {
		b.size = 1
	}
	if st.fresh || len(b.segments) == 0 {
		b.begin(st.k, st.seg)
	}
	seg := &b.segments[len(b.segments)-1]
	p0, p1 := seg.before[0], seg.before[1]
	gap := 0
	for i := 0; i < st.n; {
		k := st.k + int64(i)
		at := (k - seg.first) / b.size
		for int64(len(seg.blocks)) <= at {
			if b.total >= mostBlocks {
				b.double()
				at = (k - seg.first) / b.size
				continue
			}
			seg.blocks = append(seg.blocks, block{})
			b.total++
		}
		start := seg.first + at*b.size
		end := int(min(int64(st.n), start+b.size-st.k))
		end, gap = st.whole(i, end, gap)
		if end == i { // this beat was missed
			p0, p1 = p1, math.NaN()
			i++
			continue
		}
		p0, p1 = seg.blocks[at].add(st.x[i:end], float64(k-start), k&1 == 0, p0, p1)
		i = end
	}
	seg.before = [2]float64{p0, p1}
}

// add sums the phases of a run of beats heard, whose first is k beats into the
// block. p0 and p1 are the two phases before; it returns the two last.
//
// With signs s that change from beat to beat, the second differences
// s[i]((x[i−2]+x[i])/2 − x[i−1]) add up to 2Σs[i]x[i] but for the two beats at
// either end, so that two sums are enough for all.
func (b *block) add(x []float64, k float64, even bool, p0, p1 float64) (q0, q1 float64) {
	n := float64(len(x))
	b.n += n
	b.k += n*k + n*(n-1)/2
	sign := 1.0
	if !even {
		sign = -1
	}
	if len(x)&1 != 0 {
		b.s += sign
	}
	for len(x) > 0 && (p0 != p0 || p1 != p1) {
		b.x += x[0]
		if d := (p0+x[0])*0.5 - p1; d == d {
			b.d += sign * d
			b.nd++
		}
		p0, p1, x, sign = p1, x[0], x[1:], -sign
	}
	if len(x) == 0 {
		return p0, p1
	}
	first, second := bySide(x)
	b.x += first + second
	b.nd += float64(len(x))
	d := 2*(first-second) + 0.5*p0 - 1.5*p1
	q0, q1 = p1, x[len(x)-1]
	if len(x) > 1 {
		q0 = x[len(x)-2]
	}
	end := 0.5*q0 - 1.5*q1 // with the sign of the last
	if len(x)&1 == 0 {
		end = -end
	}
	b.d += sign * (d + end)
	return q0, q1
}

// bySide returns the sum of every second value from the first, and of the others.
func bySide(x []float64) (first, second float64) {
	var a, b float64
	for len(x) >= 4 {
		first += x[0]
		second += x[1]
		a += x[2]
		b += x[3]
		x = x[4:]
	}
	first, second = first+a, second+b
	for i, v := range x {
		if i&1 == 0 {
			first += v
		} else {
			second += v
		}
	}
	return first, second
}

// join returns two neighbouring blocks as one; c's first beat is size behind b's.
func (b block) join(c block, size float64) block {
	return block{n: b.n + c.n, k: b.k + c.k + size*c.n, x: b.x + c.x, s: b.s + c.s, d: b.d + c.d, nd: b.nd + c.nd}
}

func (b *blocks) double() {
	b.total = 0
	for i := range b.segments {
		s := &b.segments[i]
		n := (len(s.blocks) + 1) / 2
		for j := range n {
			v := s.blocks[2*j]
			if 2*j+1 < len(s.blocks) {
				v = v.join(s.blocks[2*j+1], float64(b.size))
			}
			s.blocks[j] = v
		}
		s.blocks = s.blocks[:n]
		b.total += n
	}
	b.size *= 2
}

// begin begins a segment at beat k. Where there are too many segments the
// shortest goes: it says least.
func (b *blocks) begin(k int64, seg int) {
	if len(b.segments) >= mostSegments {
		short, least := 0, -1.0
		for i := range b.segments {
			if n := b.segments[i].heard(); least < 0 || n < least {
				short, least = i, n
			}
		}
		b.dropped += int64(least)
		b.total -= len(b.segments[short].blocks)
		b.segments = append(b.segments[:short], b.segments[short+1:]...)
	}
	b.segments = append(b.segments, segment{seg: seg, first: k, before: [2]float64{math.NaN(), math.NaN()}})
}

func (s *segment) heard() float64 {
	n := 0.0
	for _, b := range s.blocks {
		n += b.n
	}
	return n
}

// find returns the place of a segment by its number, -1 if it was not kept.
func (b *blocks) find(seg int) int {
	for i := range b.segments {
		if b.segments[i].seg == seg {
			return i
		}
	}
	return -1
}
