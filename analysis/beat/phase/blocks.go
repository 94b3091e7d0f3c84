package phase

import (
	"math"
	"slices"
)

// block holds the sums of neighbouring beats. Sums add, so that two blocks make
// one of twice the length.
type block struct {
	n  float64 // beats heard
	k  float64 // sum of their numbers, from the block's own first
	x  float64 // sum of their time errors, seconds
	s  float64 // beats of even number less those of odd
	d  float64 // sum of second differences of the time error, with the middle beat's sign
	nd float64 // how many
}

// segment is a run of blocks within which the numbers of the beats are sure.
type segment struct {
	id     int
	first  int64 // number of the first beat of blocks[0], a multiple of the block's length
	blocks []block
	before [2]float64 // time errors of the last two beats
}

const (
	mostBlocks   = 512
	mostSegments = 256
)

// Blocks sums a whole run into at most mostBlocks blocks, whatever its length:
// when there are too many, neighbours are joined. The zero value is ready.
type Blocks struct {
	Size     int64 // beats a block
	Dropped  int64 // beats of segments too short and too many to keep
	segments []segment
	total    int // blocks in all
}

// Add takes the next beats.
func (b *Blocks) Add(s Series) {
	if b.Size == 0 {
		b.Size = 1
	}
	if s.Fresh || len(b.segments) == 0 {
		b.begin(s.First, s.Segment)
	}
	seg := &b.segments[len(b.segments)-1]
	p0, p1 := seg.before[0], seg.before[1]
	missed := 0
	for i := 0; i < len(s.Errors); {
		k := s.First + int64(i)
		at := (k - seg.first) / b.Size
		for int64(len(seg.blocks)) <= at {
			if b.total >= mostBlocks {
				b.double()
				at = (k - seg.first) / b.Size
				continue
			}
			seg.blocks = append(seg.blocks, block{})
			b.total++
		}
		start := seg.first + at*b.Size
		end := int(min(int64(len(s.Errors)), start+b.Size-s.First))
		end, missed = s.Whole(i, end, missed)
		if end == i { // this beat was missed
			p0, p1 = p1, math.NaN()
			i++
			continue
		}
		p0, p1 = seg.blocks[at].add(s.Errors[i:end], float64(k-start), k&1 == 0, p0, p1)
		i = end
	}
	seg.before = [2]float64{p0, p1}
}

// add sums the time errors of a run of beats heard, whose first is k beats into the
// block. p0 and p1 are the two errors before; it returns the two last.
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
	first, second := BySide(x)
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

// join returns two neighbouring blocks as one; c's first beat is size behind b's.
func (b block) join(c block, size float64) block {
	return block{n: b.n + c.n, k: b.k + c.k + size*c.n, x: b.x + c.x, s: b.s + c.s, d: b.d + c.d, nd: b.nd + c.nd}
}

func (b *Blocks) double() {
	b.total = 0
	for i := range b.segments {
		s := &b.segments[i]
		n := (len(s.blocks) + 1) / 2
		for j := range n {
			v := s.blocks[2*j]
			if 2*j+1 < len(s.blocks) {
				v = v.join(s.blocks[2*j+1], float64(b.Size))
			}
			s.blocks[j] = v
		}
		s.blocks = s.blocks[:n]
		b.total += n
	}
	b.Size *= 2
}

// begin begins a segment at beat k. Where there are too many, the shortest one is
// dropped.
func (b *Blocks) begin(k int64, id int) {
	if len(b.segments) >= mostSegments {
		short, least := 0, -1.0
		for i := range b.segments {
			if n := b.Heard(i); least < 0 || n < least {
				short, least = i, n
			}
		}
		b.Dropped += int64(least)
		b.total -= len(b.segments[short].blocks)
		b.segments = slices.Delete(b.segments, short, short+1)
	}
	b.segments = append(b.segments, segment{id: id, first: k, before: [2]float64{math.NaN(), math.NaN()}})
}

// Segments returns how many segments are kept. The methods below take their places,
// from 0.
func (b *Blocks) Segments() int { return len(b.segments) }

// Heard returns how many beats of a segment were heard.
func (b *Blocks) Heard(segment int) float64 {
	n := 0.0
	for _, v := range b.segments[segment].blocks {
		n += v.n
	}
	return n
}

// OneSided reports whether only beats of even number were heard, or only odd ones.
func (b *Blocks) OneSided() bool {
	var n, s float64
	for _, seg := range b.segments {
		for _, v := range seg.blocks {
			n, s = n+v.n, s+v.s
		}
	}
	return math.Abs(s) == n
}

// Find returns the place of a segment by its number, −1 if it was not kept.
func (b *Blocks) Find(number int) int {
	return slices.IndexFunc(b.segments, func(s segment) bool { return s.id == number })
}

// Longest returns the place of the segment with the most blocks.
func (b *Blocks) Longest() int {
	longest := 0
	for i := range b.segments {
		if len(b.segments[i].blocks) > len(b.segments[longest].blocks) {
			longest = i
		}
	}
	return longest
}

// Means are the mean time errors of neighbouring beats.
type Means struct {
	K, X, W []float64 // mean beat number, mean time error in seconds, beats
}

// Span returns the beats from the first mean to the last; there must be one.
func (m Means) Span() float64 { return m.K[len(m.K)-1] - m.K[0] }

// Means returns the block means of a segment. half, by which beats of even number are
// late and those of odd early, is taken out by how many of each a block has.
func (b *Blocks) Means(segment int, half float64) (m Means) {
	s := &b.segments[segment]
	for i, v := range s.blocks {
		if v.n > 0 {
			m.K = append(m.K, float64(s.first+int64(i)*b.Size)+v.k/v.n)
			m.X = append(m.X, (v.x-half*v.s)/v.n)
			m.W = append(m.W, v.n)
		}
	}
	return m
}

// Differences is a sum of second differences (x[i−1]+x[i+1])/2 − x[i] of the time
// error, plus for an odd i and minus for an even one, and how many there are: D/N is
// by how much even beats are late against odd ones.
type Differences struct{ D, N float64 }

// Differences returns the sums for groups of neighbouring blocks, of no fewer than
// beats together. Groups without any are left out.
func (b *Blocks) Differences(beats int64) (out []Differences) {
	group := int(1 + (beats-1)/b.Size)
	for _, s := range b.segments {
		for i := 0; i < len(s.blocks); i += group {
			var d Differences
			for _, v := range s.blocks[i:min(i+group, len(s.blocks))] {
				d.D += v.d
				d.N += v.nd
			}
			if d.N > 0 {
				out = append(out, d)
			}
		}
	}
	return out
}
