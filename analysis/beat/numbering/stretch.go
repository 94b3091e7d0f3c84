package numbering

import "math"

// StretchLen is how many beats a stretch holds at most.
const StretchLen = 1024

// Stretch is a run of neighbouring beats of one segment.
type Stretch struct {
	Segment
	Fresh bool  // begins the segment: it doesn't go on from the stretch before
	First int64 // number of the first beat within its segment; ticks stay even over all segments
	N     int
	// Times are seconds after the segment's first event, NaN for a beat that was missed.
	// Off are the places of beats that came too late or too early to be summed, Missed
	// those of them and of the ones missed, in order.
	Times       [StretchLen]float64
	Missed, Off []int
}

// Segment is a run of beats within which their numbers are sure.
type Segment struct {
	Number int     // from 1
	AfterS float64 // seconds from the run's first event to the segment's
	// IntervalS is the interval of the beat as it was first acquired, and OffsetS by how
	// much even beats then came late and odd ones early; the same for a whole run.
	IntervalS, OffsetS float64
}

// layout lays numbered beats out in stretches and hands each full one on.
type layout struct {
	segment Segment // that beats are laid in
	cur     *Stretch
	next    func(*Stretch) *Stretch
	beat    int64 // number of the next beat to lay
	live    bool  // a beat of the segment was laid
}

// begin begins a new segment: the next beat put is its first.
func (l *layout) begin(afterS float64) {
	l.flush()
	l.live = false
	l.segment.Number++
	l.segment.AfterS = afterS
}

// put lays beat k, which came x seconds after the segment's origin; off says that it is
// not to be summed. Beats between it and the one before were missed.
func (l *layout) put(k int64, x float64, off bool) {
	if !l.live {
		l.live = true
		l.cur.Fresh, l.cur.N, l.cur.Missed, l.cur.Off = true, 0, l.cur.Missed[:0], l.cur.Off[:0]
		l.beat = k
	}
	for l.beat < k {
		l.cur.Missed = append(l.cur.Missed, l.cur.N)
		l.push(math.NaN())
	}
	if off {
		l.cur.Missed, l.cur.Off = append(l.cur.Missed, l.cur.N), append(l.cur.Off, l.cur.N)
	}
	l.push(x)
}

func (l *layout) push(x float64) {
	l.cur.Times[l.cur.N] = x
	l.laid(1)
	if l.cur.N == StretchLen {
		l.flush()
	}
}

// room returns where the next n beats go, of those that follow the last without a
// miss; laid then says how many of them were laid. There must be room in the stretch.
func (l *layout) room(n int) []float64 { return l.cur.Times[l.cur.N : l.cur.N+n] }

func (l *layout) laid(n int) {
	s := l.cur
	if s.N == 0 {
		s.First, s.Segment = l.beat, l.segment
	}
	s.N += n
	l.beat += int64(n)
}

// flush hands on what is laid so far.
func (l *layout) flush() {
	if l.cur.N == 0 {
		return
	}
	l.cur = l.next(l.cur)
	l.cur.N, l.cur.Fresh, l.cur.Missed, l.cur.Off = 0, false, l.cur.Missed[:0], l.cur.Off[:0]
}
