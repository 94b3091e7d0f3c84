package timebase

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

// sums are what the slope follows from, over all segments.
type sums struct {
	mt, md float64 // means of a part
	tt, td float64 // about each part's mean
	noise  float64 // sum of squares of normalised second differences
	terms  float64
	// bound over tt is the limit of what delays that glide or creep add to the slope.
	bound float64
}

// add adds the sums of windows from which a slope was taken out.
func (s *sums) add(b sums, slope float64) {
	s.tt += b.tt
	s.td += b.td + slope*b.tt
	s.noise += b.noise
	s.terms += b.terms
	s.bound += b.bound
}

const (
	// leastEvents of a segment tell something of the slope.
	leastEvents = 10
	// The line runs through lineWindows windows: enough to show their scatter, and few
	// enough that each holds an event with hardly any delay. A short run has fewer of
	// them, so that each has leastInWindow events, but not fewer than fewestWindows.
	lineWindows   = 16
	fewestWindows = 8
	leastInWindow = 4
)

// close adds the finished segment to the sums.
func (f *Line) close() {
	events := f.seg
	if f.width == 0 {
		if len(events) < leastEvents {
			return
		}
		f.level(events[len(events)-1].t)
		if s, ok := f.polled.feasible(events); ok {
			f.spanS += events[len(events)-1].t - events[0].t
			f.sums.add(s, f.slope)
			return
		}
	}
	ws := slices.DeleteFunc(f.seg, func(w window) bool { return w.n == 0 })
	if len(ws) < 2 {
		return
	}
	f.seg = ws
	f.detrend()
	for len(ws) > 2*lineWindows || (len(ws) > fewestWindows && few(ws)) {
		ws = halve(ws)
	}
	f.spanS += ws[len(ws)-1].t - ws[0].t
	switch {
	case f.polled.sure:
		f.sums.add(f.polled.between(joinSparse(ws)), f.slope)
	case f.ownShift:
		f.sums.add(f.polled.through(ws, math.Inf(1)), f.slope)
	default:
		f.sums.add(either(f.polled.through(slices.Clone(ws), doubtful), f.polled.through(ws, outOfFamily)), f.slope)
	}
}

// either returns sums whose slope may be the one or the other: the mean, with a limit
// that reaches beyond both by half of what they are apart.
func either(a, b sums) sums {
	if a.tt > 0 && b.tt > 0 {
		apart := b.td/b.tt - a.td/a.tt
		a.td += a.tt * apart / 2
		a.bound += a.tt * math.Abs(apart)
	}
	return a
}

// lineSums returns what least squares needs. The scatter of the windows is by their
// second differences, which a drifting resonator hardly touches.
func lineSums(ws []window) (s sums) {
	n := float64(len(ws))
	for _, w := range ws {
		s.mt += w.t / n
		s.md += w.d / n
	}
	for _, w := range ws {
		s.tt += (w.t - s.mt) * (w.t - s.mt)
		s.td += (w.t - s.mt) * (w.d - s.md)
	}
	secondDifferences(ws, func(e float64) {
		s.noise += e * e
		s.terms++
	})
	return s
}

// secondDifferences yields them, each over the norm of its terms.
func secondDifferences(ws []window, yield func(float64)) {
	for i := 2; i < len(ws); i++ {
		a, b, c := ws[i-2], ws[i-1], ws[i]
		if c.t <= a.t {
			continue
		}
		l := (b.t - a.t) / (c.t - a.t)
		yield((b.d - a.d*(1-l) - c.d*l) / math.Sqrt(1+l*l+(1-l)*(1-l)))
	}
}

// Clone returns an independent copy.
func (f *Line) Clone() *Line {
	c := *f
	c.seg = slices.Clone(f.seg)
	return &c
}

// closed returns a copy whose last segment is finished.
func (f *Line) closed() *Line {
	g := f.Clone()
	g.close()
	return g
}

// Offset returns by how many parts in a million the device counts too fast by the
// host's monotonic time, with the uncertainty of the line alone. ok is false when
// there are fewer than ten events, or they come in too few windows. More events may be
// added afterwards.
func (f *Line) Offset() (ppm quantity.Value, ok bool) { return f.closed().sums.offset() }

func (s sums) offset() (ppm quantity.Value, ok bool) {
	slope := s.td / s.tt
	if !(math.Abs(slope) < 0.5) || s.terms == 0 && s.bound == 0 {
		return quantity.Value{}, false
	}
	ppm = rectangle(s.bound / s.tt * 1e6)
	if s.terms > 0 {
		// Second differences of normal noise correlate by −2/3 and 1/6 with the next two, so
		// that their mean square has the degrees of freedom of terms/(1 + 2·(4/9 + 1/36)),
		// half of them (Satterthwaite's formula).
		t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: max(1, s.terms/2)}
		ppm = Both(ppm, quantity.Value{U: math.Sqrt(s.noise/s.terms/s.tt) * 1e6, K: t.Quantile(0.975)})
	}
	ppm.V = (1/(1+slope) - 1) * 1e6
	return ppm, !math.IsNaN(ppm.U)
}
