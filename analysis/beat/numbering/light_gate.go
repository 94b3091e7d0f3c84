package numbering

import (
	"math"

	"evenbeat/analysis/beat/robust"
)

const (
	mostBlocks = 64 // blocks of passes kept; of more, neighbours are joined
	// passNear is how far a pass may lie from the typical one, as a share of it: an
	// edge missed or a hand in the light makes others.
	passNear = 0.25
	passGain = 1.0 / 64
	warmUp   = 32
)

// Blocking sums how long the flag blocks the light gate at each pass, from the edge
// that is the beat to the other one.
type Blocking struct {
	open    bool
	in      int64 // the beat's edge, in ticks
	typical float64
	first   []pass // before typical is known
	size    int64  // passes a block
	blocks  []passBlock
}

// pass is one pass of the flag: when the light was blocked, and for how long.
type pass struct {
	t int64
	d float64
}

// passBlock holds the sums of neighbouring passes: their number, their times and
// lengths and the squares of these, in ticks.
type passBlock struct{ n, t, d, dd float64 }

func (b *Blocking) add(t int64, beat bool) {
	if beat {
		b.open, b.in = true, t
		return
	}
	if !b.open {
		return
	}
	b.open = false
	p := pass{b.in, float64(t - b.in)}
	switch {
	case !(p.d > 0):
	case b.typical > 0:
		b.take(p)
	default:
		if b.first = append(b.first, p); len(b.first) >= warmUp {
			b.settle()
		}
	}
}

// Any reports whether passes were measured.
func (b *Blocking) Any() bool { return len(b.blocks) > 0 || len(b.first) > 0 }

// settle finds the typical pass among the first ones.
func (b *Blocking) settle() {
	ds := make([]float64, len(b.first))
	for i, p := range b.first {
		ds[i] = p.d
	}
	b.typical = robust.Median(ds)
	for _, p := range b.first {
		b.take(p)
	}
	b.first = nil
}

func (b *Blocking) take(p pass) {
	off := p.d - b.typical
	if math.Abs(off) > passNear*b.typical {
		return
	}
	b.typical += passGain * off
	if b.size == 0 {
		b.size = 1
	}
	if n := len(b.blocks); n == 0 || b.blocks[n-1].n >= float64(b.size) {
		if n >= mostBlocks {
			b.join()
		}
		b.blocks = append(b.blocks, passBlock{})
	}
	last := &b.blocks[len(b.blocks)-1]
	last.n++
	last.t += float64(p.t)
	last.d += p.d
	last.dd += p.d * p.d
}

func (b *Blocking) join() {
	n := len(b.blocks) / 2
	for i := range n {
		p, q := b.blocks[2*i], b.blocks[2*i+1]
		b.blocks[i] = passBlock{p.n + q.n, p.t + q.t, p.d + q.d, p.dd + q.dd}
	}
	b.blocks = b.blocks[:n]
	b.size *= 2
}

// BlockingLine is how long a pass took, in ticks: at the middle of the run, and how
// that changed, by a straight line.
type BlockingLine struct {
	N             float64 // passes
	Mid, MidU     float64
	Span          float64 // from the middle of the first block to that of the last, ticks
	Slope, SlopeU float64 // of length over time
	Changes       bool    // there are passes enough to tell a change
}

// Line fits the line. The uncertainties come from the blocks' scatter about it,
// and not less than that of single passes; it reports false for too few passes.
func (b *Blocking) Line() (l BlockingLine, ok bool) {
	l.Changes = len(b.blocks) > 2
	if b.typical == 0 && len(b.first) > 0 {
		c := Blocking{first: b.first}
		c.settle()
		b = &c
	}
	var t, d float64
	for _, p := range b.blocks {
		l.N, t, d = l.N+p.n, t+p.t, d+p.d
	}
	if l.N < 8 {
		return l, false
	}
	mt := t / l.N
	l.Mid = d / l.N
	var tt, td, within float64
	for _, p := range b.blocks {
		x := p.t/p.n - mt
		tt += p.n * x * x
		td += p.n * x * (p.d/p.n - l.Mid)
		within += p.dd - p.d*p.d/p.n
	}
	first, last := b.blocks[0], b.blocks[len(b.blocks)-1]
	l.Span = last.t/last.n - first.t/first.n
	if tt > 0 {
		l.Slope = td / tt
	}
	var about float64
	for _, p := range b.blocks {
		e := p.d/p.n - l.Mid - l.Slope*(p.t/p.n-mt)
		about += p.n * e * e
	}
	variance := (within + about) / math.Max(1, l.N-2) // of one pass
	if m := float64(len(b.blocks)); m >= 6 {
		variance = math.Max(variance, about/(m-2))
	}
	variance = math.Max(variance, 1.0/6) // of the difference of two whole ticks
	l.MidU = math.Sqrt(variance / l.N)
	if tt > 0 {
		l.SlopeU = math.Sqrt(variance / tt)
	}
	return l, true
}
