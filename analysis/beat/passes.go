package beat

import "math"

const (
	mostPasses = 64 // blocks of passes kept; of more, neighbours are joined
	// passNear is how far a pass may lie from the typical one, as a share of it: an
	// edge missed or a hand in the light makes others.
	passNear = 0.25
	passGain = 1.0 / 64
	warmUp   = 32
)

// passes sums how long the flag blocks the light at each pass, from the edge that
// is the beat to the other one.
type passes struct {
	open    bool
	in      int64 // the beat's edge, in ticks
	typical float64
	first   []passage // before typical is known
	size    int64     // passes a block
	blocks  []passBlock
}

type passage struct {
	t int64
	d float64
}

// passBlock holds the sums of neighbouring passes: their number, their times and
// lengths and the squares of these, in ticks.
type passBlock struct{ n, t, d, dd float64 }

func (p *passes) edge(t int64, beat bool) {
	if beat {
		p.open, p.in = true, t
		return
	}
	if !p.open {
		return
	}
	p.open = false
	d := float64(t - p.in)
	if !(d > 0) {
		return
	}
	if p.typical == 0 {
		p.first = append(p.first, passage{p.in, d})
		if len(p.first) >= warmUp {
			p.settle()
		}
		return
	}
	p.take(passage{p.in, d})
}

// blocked reports whether passes were measured.
func (p *passes) blocked() bool { return len(p.blocks) > 0 || len(p.first) > 0 }

// settle finds the typical pass among the first ones.
func (p *passes) settle() {
	ds := make([]float64, len(p.first))
	for i, v := range p.first {
		ds[i] = v.d
	}
	p.typical = median(ds)
	for _, v := range p.first {
		p.take(v)
	}
	p.first = nil
}

func (p *passes) take(v passage) {
	off := v.d - p.typical
	if math.Abs(off) > passNear*p.typical {
		return
	}
	p.typical += passGain * off
	if p.size == 0 {
		p.size = 1
	}
	if n := len(p.blocks); n == 0 || p.blocks[n-1].n >= float64(p.size) {
		if n >= mostPasses {
			p.join()
		}
		p.blocks = append(p.blocks, passBlock{})
	}
	b := &p.blocks[len(p.blocks)-1]
	b.n++
	b.t += float64(v.t)
	b.d += v.d
	b.dd += v.d * v.d
}

func (p *passes) join() {
	n := len(p.blocks) / 2
	for i := range n {
		a, b := p.blocks[2*i], p.blocks[2*i+1]
		p.blocks[i] = passBlock{a.n + b.n, a.t + b.t, a.d + b.d, a.dd + b.dd}
	}
	p.blocks = p.blocks[:n]
	p.size *= 2
}

// passLine is how long a pass took, in ticks: at the middle of the run, and at its
// first and last pass by a straight line.
type passLine struct {
	n           float64
	mid, midU   float64
	span        float64 // of the middles of the first and the last block, ticks
	slope, slpU float64 // of length over time
}

// line fits the line. The uncertainties come from the blocks' scatter about it,
// and not less than that of single passes; it reports false for too few passes.
func (p *passes) line() (l passLine, ok bool) {
	if p.typical == 0 && len(p.first) > 0 {
		c := passes{first: p.first}
		c.settle()
		p = &c
	}
	var n, t, d float64
	for _, b := range p.blocks {
		n, t, d = n+b.n, t+b.t, d+b.d
	}
	if n < 8 {
		return l, false
	}
	mt, md := t/n, d/n
	var tt, td, within float64
	for _, b := range p.blocks {
		x := b.t/b.n - mt
		tt += b.n * x * x
		td += b.n * x * (b.d/b.n - md)
		within += b.dd - b.d*b.d/b.n
	}
	l = passLine{n: n, mid: md}
	last := p.blocks[len(p.blocks)-1]
	l.span = last.t/last.n - p.blocks[0].t/p.blocks[0].n
	if tt > 0 {
		l.slope = td / tt
	}
	m := float64(len(p.blocks))
	var about float64
	for _, b := range p.blocks {
		e := b.d/b.n - md - l.slope*(b.t/b.n-mt)
		about += b.n * e * e
	}
	variance := (within + about) / math.Max(1, n-2) // of one pass
	if m >= 6 {
		variance = math.Max(variance, about/(m-2))
	}
	variance = math.Max(variance, 1.0/6) // of the difference of two whole ticks
	l.midU = math.Sqrt(variance / n)
	if tt > 0 {
		l.slpU = math.Sqrt(variance / tt)
	}
	return l, true
}
