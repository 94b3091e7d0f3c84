package timebase

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

const (
	mostWindows = 64
	// The line runs through this many windows: enough to show their scatter, and few
	// enough that each holds an event with hardly any delay.
	lineWindows = 16
	// The lateness of each of a window's first askAll events is looked at, and then of
	// one in askOneIn, a power of two: the quickest of so many is as good as on time.
	askAll   = 1024
	askOneIn = 8
	// leastInWindow is the fewest events whose least delay means anything.
	leastInWindow = 4
	// stepNs is the least step of the host's UTC against its monotonic time that is
	// reported. A disciplined clock slews by 0.5 ms a second at most.
	stepNs = 50_000_000
)

// Line finds by how much a device counts too fast, from when its messages reached the
// host. A message can only come late. Within each window of time the event with the
// least host time for its count is therefore the most accurate, and the line runs
// through those events, which are the lower envelope of the delay. Memory is bounded:
// windows are joined in pairs when there are too many, and a finished segment leaves
// only its sums.
//
// The slope is by least squares, so that it weighs the run as the regression of the
// beats does. A resonator that drifts with the room's temperature then drops out of
// the rate.
type Line struct {
	seg      []window
	width    float64 // seconds of count
	at       int     // window of the last event
	from, to float64 // the times that it spans
	start    float64
	firstD   float64
	slope    float64 // already taken out of the windows
	started  bool
	sums     sums
	spanS    float64 // of all segments
	segments int64
	steps    int64
	lastUTC  int64
	lastMono int64
	stepSum  float64
}

type window struct {
	t, d float64 // of the event with the least delay; d = host − count, seconds
	n    int64
}

type sums struct {
	tt, td  float64 // about each segment's mean
	noise   float64 // sum of squares of normalised second differences
	terms   float64
	windows int64
}

// Add takes an event: its count in seconds by the nominal rate, joined by a
// Counter, and the host's stamps in nanoseconds. cut begins a new segment: the
// count or the host's monotonic time does not go on from the event before.
func (f *Line) Add(count float64, mono, utc int64, cut bool) {
	if step := (utc - f.lastUTC) - (mono - f.lastMono); (step > stepNs || step < -stepNs) && f.started {
		f.steps++
		f.stepSum += float64(step) * 1e-9
	}
	f.lastMono, f.lastUTC = mono, utc
	host := float64(mono) * 1e-9
	if cut || !f.started {
		f.close()
		f.started = true
		f.start, f.firstD = count, host-count
		f.width, f.slope = 1, 0
		f.seg = f.seg[:0]
		f.from, f.to = 0, 0
		f.segments++
	}
	t := count - f.start
	d := host - count - f.firstD - f.slope*t
	if t >= f.from && t < f.to { // the window of the event before
		f.seg[f.at].take(t, d)
		return
	}
	i := int(min(max(0, t/f.width), 1e6))
	for i >= mostWindows {
		f.detrend()
		d = host - count - f.firstD - f.slope*t
		f.seg, f.width = halve(f.seg), f.width*2
		i = int(min(t/f.width, 1e6))
	}
	for len(f.seg) <= i {
		f.seg = append(f.seg, window{})
	}
	f.at, f.from, f.to = i, float64(i)*f.width, float64(i+1)*f.width
	f.seg[i].take(t, d)
}

func (w *window) take(t, d float64) {
	if w.n == 0 || d < w.d && nextAsked(w.n) == w.n {
		w.t, w.d = t, d
	}
	w.n++
}

// nextAsked returns the first event of a window, from its nth on, whose lateness is
// looked at.
func nextAsked(n int64) int64 {
	if n < askAll {
		return n
	}
	return (n + askOneIn - 1) &^ (askOneIn - 1)
}

// detrend takes out the slope seen so far. With a resonator half a per cent off, the
// least of a sloping window would be its end and not its quickest event.
func (f *Line) detrend() {
	slope := envelope(f.seg)
	for i := range f.seg {
		f.seg[i].d -= slope * f.seg[i].t
	}
	f.slope += slope
}

// halve joins windows two by two.
func halve(ws []window) []window {
	n := (len(ws) + 1) / 2
	for i := range n {
		w := ws[2*i]
		if 2*i+1 < len(ws) {
			w = join(w, ws[2*i+1])
		}
		ws[i] = w
	}
	return ws[:n]
}

// joinSparse joins a window with less than two thirds of the usual number of events to
// its neighbour: the fewer events, the later the quickest of them.
func joinSparse(ws []window) []window {
	total := int64(0)
	for _, w := range ws {
		total += w.n
	}
	least := total * 2 / (3 * int64(max(1, len(ws))))
	out := ws[:0]
	for _, w := range ws {
		if n := len(out); n > 0 && (w.n < least || out[n-1].n < least) {
			out[n-1] = join(out[n-1], w)
			continue
		}
		out = append(out, w)
	}
	return out
}

func join(a, b window) window {
	if a.n == 0 || (b.n > 0 && b.d < a.d) {
		a.t, a.d = b.t, b.d
	}
	a.n += b.n
	return a
}

// close adds the finished segment to the sums: its windows, detrended and joined until
// there are about lineWindows.
func (f *Line) close() {
	f.seg = slices.DeleteFunc(f.seg, func(w window) bool { return w.n == 0 })
	if len(f.seg) < 2 {
		return
	}
	f.detrend()
	ws := f.seg
	for len(ws) > lineWindows || (len(ws) > 4 && few(ws)) {
		ws = halve(ws)
	}
	ws = joinSparse(ws)
	s, span := lineSums(ws)
	s.td += f.slope * s.tt
	f.sums.tt += s.tt
	f.sums.td += s.td
	f.sums.noise += s.noise
	f.sums.terms += s.terms
	f.sums.windows += s.windows
	f.spanS += span
}

// envelope returns the slope of the closest line that lies under all windows: the edge
// of their lower hull at the mean time.
func envelope(ws []window) float64 {
	hull := make([]window, 0, len(ws))
	mean := 0.0
	for _, w := range ws {
		if w.n == 0 {
			continue
		}
		mean += w.t / float64(len(ws))
		for len(hull) >= 2 {
			a, b := hull[len(hull)-2], hull[len(hull)-1]
			if (b.d-a.d)*(w.t-a.t) < (w.d-a.d)*(b.t-a.t) {
				break
			}
			hull = hull[:len(hull)-1]
		}
		hull = append(hull, w)
	}
	for i := 1; i < len(hull); i++ {
		if hull[i].t >= mean && hull[i].t > hull[i-1].t {
			return (hull[i].d - hull[i-1].d) / (hull[i].t - hull[i-1].t)
		}
	}
	return 0
}

func few(ws []window) bool {
	n := int64(0)
	for _, w := range ws {
		n += w.n
	}
	return n < leastInWindow*int64(len(ws))
}

// lineSums returns what least squares needs. The scatter of the windows is by their
// second differences, which a drifting resonator hardly touches.
func lineSums(ws []window) (s sums, span float64) {
	n := float64(len(ws))
	var mt, md float64
	for _, w := range ws {
		mt += w.t / n
		md += w.d / n
	}
	for _, w := range ws {
		s.tt += (w.t - mt) * (w.t - mt)
		s.td += (w.t - mt) * (w.d - md)
	}
	for i := 2; i < len(ws); i++ {
		a, b, c := ws[i-2], ws[i-1], ws[i]
		if c.t <= a.t {
			continue
		}
		l := (b.t - a.t) / (c.t - a.t)
		e := b.d - a.d*(1-l) - c.d*l
		s.noise += e * e / (1 + l*l + (1-l)*(1-l))
		s.terms++
	}
	s.windows = int64(len(ws))
	return s, ws[len(ws)-1].t - ws[0].t
}

// Clone returns an independent copy.
func (f *Line) Clone() *Line {
	c := *f
	c.seg = slices.Clone(f.seg)
	return &c
}

// Offset returns by how many parts in a million the device counts too fast by the
// host's monotonic time, with the uncertainty of the line alone. ok is false when
// there is too little: under 30 s, or fewer than five windows of events. More events
// may be added afterwards.
func (f *Line) Offset() (ppm quantity.Value, ok bool) {
	g := f.Clone()
	g.close()
	s := g.sums
	if s.terms < 3 || !(s.tt > 0) || g.spanS < leastSpanS {
		return quantity.Value{}, false
	}
	slope := s.td / s.tt
	u := math.Sqrt(s.noise / s.terms / s.tt)
	// Neighbouring second differences share two windows of three: about six in
	// ten of them are worth an independent one.
	nu := max(1, 0.6*s.terms)
	if math.Abs(slope) > 0.5 || math.IsNaN(u) {
		return quantity.Value{}, false
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}
	return quantity.Value{V: (1/(1+slope) - 1) * 1e6, U: u * 1e6, K: t.Quantile(0.975)}, true
}

const leastSpanS = 30
