package beat

import "math"

const stretchLen = 1024

// stretch is a run of neighbouring beats: by how much each came later than an even
// clock's, in seconds. A beat that was missed is NaN.
type stretch struct {
	fresh bool    // begins a segment: it doesn't go on from the stretch before
	seg   int     // number of the segment
	at    float64 // seconds from the run's first event to the segment's origin
	k     int64   // number of the first beat within its segment
	n     int
	x     [stretchLen]float64
	gaps  []int // places in x of the beats that were missed, in order
}

// Stretch is a run of neighbouring beats, of one segment: within it their numbers are
// sure.
type Stretch struct {
	Fresh bool  // it begins a segment
	First int64 // number of its first beat within the segment; ticks stay even over all segments
	// Late is by how much each beat came later than an even clock's, in seconds by the
	// count, less Apart for those of even number and plus it for the others; NaN for one
	// that was missed. It is used again.
	Late  []float64
	Apart float64 // by which even beats are late, and odd ones early, as the first tell
}

// whole returns the end of the run of beats heard that begins at place i, at most
// to, and the number of gaps before it; gap is that before i.
func (s *stretch) whole(i, to, gap int) (end, gaps int) {
	for gap < len(s.gaps) && s.gaps[gap] < i {
		gap++
	}
	if gap < len(s.gaps) && s.gaps[gap] < to {
		return s.gaps[gap], gap
	}
	return to, gap
}

// grid lays numbered beats out in stretches and hands each full one on.
type grid struct {
	ref   float64 // seconds a beat, of the even clock
	cur   *stretch
	next  func(*stretch) *stretch           // takes a stretch, gives another to fill
	laid  func(number int64, timeS float64) // hears of every beat laid, if not nil
	beat  int64                             // number of the next beat to lay
	open  func(ref, apart float64)
	live  bool    // cur holds beats of a segment
	apart float64 // seconds
	seg   int
	at    float64
}

// begin sets the interval of the even clock, once, before the first segment, and
// by how much even beats are late and odd ones early: that is taken out, so that
// a beat missed doesn't show as a jump in the means.
func (g *grid) begin(ref, apart float64) {
	g.ref, g.apart = ref, apart
	g.open(ref, apart)
}

// segment begins a new segment, at seconds after the run's first event: the next
// beat put is its first.
func (g *grid) segment(at float64) {
	g.flush()
	g.live = false
	g.seg++
	g.at = at
}

// put lays beat k, which came x seconds after the segment's origin. Beats between
// it and the one before were missed.
func (g *grid) put(k int64, x float64) {
	s := g.cur
	if !g.live {
		g.live = true
		s.fresh, s.k, s.n, s.gaps = true, k, 0, s.gaps[:0]
		g.beat = k
	}
	for g.beat < k {
		g.cur.gaps = append(g.cur.gaps, g.cur.n)
		g.push(math.NaN())
	}
	side := g.apart
	if k&1 != 0 {
		side = -side
	}
	g.push(x - float64(k)*g.ref - side)
}

func (g *grid) push(v float64) {
	s := g.cur
	if s.n == 0 {
		s.k, s.seg, s.at = g.beat, g.seg, g.at
	}
	s.x[s.n] = v
	s.n++
	g.beat++
	if s.n == stretchLen {
		g.flush()
	}
}

// room returns where the next n beats go, of those that follow the last without a
// miss; lay then says how many of them were laid. There must be room in the stretch.
func (g *grid) room(n int) []float64 { return g.cur.x[g.cur.n : g.cur.n+n] }

func (g *grid) lay(n int) {
	s := g.cur
	if s.n == 0 {
		s.k, s.seg, s.at = g.beat, g.seg, g.at
	}
	s.n += n
	g.beat += int64(n)
}

// flush hands on what is laid so far.
func (g *grid) flush() {
	if g.cur.n == 0 {
		return
	}
	if g.laid != nil {
		g.tell(g.cur)
	}
	g.cur = g.next(g.cur)
	g.cur.n, g.cur.fresh, g.cur.gaps = 0, false, g.cur.gaps[:0]
}

// tell tells of the beats in a stretch: numbers go on over segments by the clock's
// own interval, so that a stop is a gap in them.
func (g *grid) tell(s *stretch) {
	before := int64(math.Round(s.at / g.ref))
	for i, x := range s.x[:s.n] {
		if math.IsNaN(x) {
			continue
		}
		k := s.k + int64(i)
		side := g.apart
		if k&1 != 0 {
			side = -side
		}
		g.laid(before+k, s.at+x+float64(k)*g.ref+side)
	}
}
