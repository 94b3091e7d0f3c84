package beat

import "math"

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
	k    int64
	x    float64 // phase, seconds
	half float64 // phase less that of the beat before; NaN after a miss
	seg  int
	at   float64 // seconds from the run's first event to the segment's origin
}

type bin struct {
	first, far kept
	off        float64
	fresh      bool // begins with the first beat of a segment
}

func (t *trace) add(st *stretch) {
	if t.size == 0 {
		t.size = 1
	}
	fresh := st.fresh
	if fresh {
		t.used = t.size
		t.p0, t.p1 = math.NaN(), math.NaN()
	}
	p0, p1 := t.p0, t.p1
	for i, v := range st.x[:st.n] {
		if v != v {
			p0, p1 = p1, v
			continue
		}
		if t.used >= t.size {
			if len(t.bins) >= mostBins {
				t.double()
			}
			if t.used >= t.size {
				b := kept{k: st.k + int64(i), x: v, half: v - p1, seg: st.seg, at: st.at}
				t.bins = append(t.bins, bin{first: b, far: b, fresh: fresh})
				t.used, fresh = 0, false
			}
		}
		t.used++
		off := v - p0
		if off < 0 {
			off = -off
		}
		if b := &t.bins[len(t.bins)-1]; off > b.off {
			b.off = off
			b.far = kept{k: st.k + int64(i), x: v, half: v - p1, seg: st.seg, at: st.at}
		}
		p0, p1 = p1, v
	}
	t.p0, t.p1 = p0, p1
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
			if c.fresh { // the begin of a segment stays to be seen
				b.fresh, b.first = true, c.first
			}
		}
		t.bins[i] = b
	}
	t.bins = t.bins[:n]
	t.size *= 2
	t.used = t.size
}

// points returns the thinned beats against the fitted line, tick and tock apart.
func (t *trace) points(l line, s *sums, half, truth float64) []TracePoint {
	out := make([]TracePoint, 0, 2*len(t.bins))
	for _, b := range t.bins {
		for j, p := range []kept{b.first, b.far} {
			i := s.blocks.find(p.seg)
			if i < 0 || (j == 1 && p.k == b.first.k && p.seg == b.first.seg) {
				continue
			}
			x := p.x - l.inter[i] - l.slope.V*float64(p.k)
			if p.k&1 == 0 {
				x -= half
			} else {
				x += half
			}
			point := TracePoint{TimeS: (p.at + float64(p.k)*s.ref + p.x) * truth, ResidualS: x * truth, Odd: p.k&1 != 0, After: j == 0 && b.fresh}
			if h := p.half + s.ref; h == h {
				point.HalfS = h * truth
			}
			out = append(out, point)
		}
	}
	return out
}
