package beat

import (
	"math"
	"slices"

	"evenbeat/analysis/beat/phase"
)

const mostBins = 900

// trace keeps beats for the figure: of each bin the first, and the one that lies
// farthest from the beat two before, so that an outlier survives the thinning.
type trace struct {
	size   int64 // beats a bin
	bins   []bin
	used   int64 // beats in the last bin
	p0, p1 float64
}

type kept struct {
	k   int64
	x   float64 // time error, seconds
	seg int
	at  float64 // seconds from the run's first event to the segment's origin
	off bool    // too late or too early to be summed
}

type bin struct {
	first, far kept
	off        float64
	fresh      bool // begins with the first beat of a segment
}

func (t *trace) add(s phase.Series) {
	if t.size == 0 {
		t.size, t.bins = 1, make([]bin, 0, mostBins)
	}
	if s.Fresh {
		t.used = t.size
		t.p0, t.p1 = math.NaN(), math.NaN()
	}
	fresh := s.Fresh
	x := s.Errors
	for i := 0; i < len(x); {
		if t.used >= t.size {
			if x[i] != x[i] { // a bin begins with a beat that was heard
				t.p0, t.p1 = t.p1, x[i]
				i++
				continue
			}
			if len(t.bins) >= mostBins {
				t.double()
				continue
			}
			b := keptOf(s, i)
			t.bins = append(t.bins, bin{first: b, far: b, fresh: fresh})
			t.used, fresh = 0, false
		}
		end := min(int64(len(x)), int64(i)+t.size-t.used)
		t.within(s, i, int(end))
		t.used += end - int64(i)
		i = int(end)
	}
}

// keptOf returns the beat at a place of s.
func keptOf(s phase.Series, i int) kept {
	return kept{k: s.First + int64(i), x: s.Errors[i], seg: s.Segment, at: s.AfterS, off: slices.Contains(s.Off, i)}
}

// within looks for the farthest beat among those that belong to the last bin.
func (t *trace) within(s phase.Series, from, to int) {
	b := &t.bins[len(t.bins)-1]
	off, at := b.off, -1
	p0, p1 := t.p0, t.p1
	x := s.Errors[from:to]
	for i := range min(2, len(x)) {
		if d := math.Abs(x[i] - p0); d > off {
			off, at = d, i
		}
		p0, p1 = p1, x[i]
	}
	if n := len(x); n > 2 {
		two := x[:n-2]
		for i, v := range x[2:] {
			if d := v - two[i]; d > off || -d > off {
				off, at = math.Abs(d), i+2
			}
		}
		p0, p1 = x[n-2], x[n-1]
	}
	t.p0, t.p1 = p0, p1
	if at >= 0 {
		b.off = off
		b.far = keptOf(s, from+at)
	}
}

func (t *trace) double() {
	n := (len(t.bins) + 1) / 2
	for i := range n {
		b := t.bins[2*i]
		if 2*i+1 < len(t.bins) {
			c := t.bins[2*i+1]
			if c.off > b.off {
				b.far, b.off = c.far, c.off
			}
			if c.fresh { // the beginning of a segment stays to be seen
				b.fresh, b.first = true, c.first
			}
		}
		t.bins[i] = b
	}
	t.bins = t.bins[:n]
	t.size *= 2
	t.used = t.size
}

// points returns the thinned beats against the fitted line, with the tick–tock offset taken out.
func (t *trace) points(f findings, s *sums) []TracePoint {
	out := make([]TracePoint, 0, 2*len(t.bins))
	for _, b := range t.bins {
		for j, p := range []kept{b.first, b.far} {
			i := s.blocks.Find(p.seg)
			if i < 0 || p.off && f.tally.Late+f.tally.Early == 0 || (j == 1 && p.k == b.first.k && p.seg == b.first.seg) {
				continue
			}
			x := p.x - f.line.Intercepts[i] - f.line.Slope.V*float64(p.k)
			side := s.even.OffsetS
			if p.k&1 == 0 {
				x -= f.half.V
			} else {
				x += f.half.V
				side = -side
			}
			out = append(out, TracePoint{TimeS: (p.at + float64(p.k)*s.even.IntervalS + p.x + side) * f.truth, ResidualS: x * f.truth, Odd: p.k&1 != 0, After: j == 0 && b.fresh, Far: j == 1})
		}
	}
	return out
}
