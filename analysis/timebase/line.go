package timebase

import "math"

const (
	// The first keptWhole events of a segment are kept one by one: they tell how the
	// port delays, and the slope by which the windows are levelled. Without that the least
	// of a sloping window would be its end and not its quickest event.
	keptWhole   = 256
	mostWindows = 64
	// A window lasts leastWidthS or a power of two times as long.
	leastWidthS = 1.0 / 16
	// The lateness of each of a window's first askAll events is looked at, and then of
	// one in askOneIn, a power of two: the quickest of so many is as good as on time.
	askAll   = 1024
	askOneIn = 8
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
//
// Delays that all grow or glide leave no scatter. Where the stamps lie on even steps, as
// of an adaptor that is polled, the line has to leave every event from none to a step
// late (see polling). Where the level of the delays changes at once, the line is cut
// there (see parts).
type Line struct {
	seg      []window
	width    float64 // seconds of count; 0 while each event is a window of its own
	at       int     // window of the last event
	from, to float64 // the times that it spans
	start    float64
	firstD   float64
	slope    float64 // already taken out of the windows
	started  bool
	polled   polling // of the segment
	ownShift bool    // whoever adds the events allows for shifts of the delay
	sums     sums
	spanS    float64 // of all segments
	segments int64
	steps    int64
	lastUTC  int64
	lastMono int64
	stepSum  float64
}

type window struct {
	t, d  float64 // of the event with the least delay; d = host − count, seconds
	n     int64
	tu, u float64 // of the event on a step with the greatest delay; u is −Inf without one
}

// Add takes an event: its count in seconds by the nominal rate, joined by a
// Counter, and the host's stamps in nanoseconds. cut begins a new segment: the
// count or the host's monotonic time does not go on from the event before.
func (f *Line) Add(count float64, mono, utc int64, cut bool) {
	if step := (utc - f.lastUTC) - (mono - f.lastMono); (step > stepNs || step < -stepNs) && f.started {
		f.steps++
		f.stepSum += float64(step) * 1e-9
	}
	on := f.polled.on(mono - f.lastMono)
	f.lastMono, f.lastUTC = mono, utc
	host := float64(mono) * 1e-9
	if cut || !f.started {
		f.close()
		f.started = true
		f.start, f.firstD = count, host-count
		f.width, f.slope, f.polled = 0, 0, polling{}
		f.seg = f.seg[:0]
		f.at, f.from, f.to = 0, 0, 0
		f.segments++
	}
	t := count - f.start
	d := host - count - f.firstD - f.slope*t
	if t >= f.from && t < f.to { // the window of the event before
		f.seg[f.at].take(t, d, on)
		return
	}
	if f.width == 0 {
		if len(f.seg) < keptWhole {
			f.seg = append(f.seg, window{t, d, 1, t, math.Inf(-1)})
			return
		}
		f.level(t)
	}
	i := int(min(max(0, t/f.width), 1e6))
	for i >= mostWindows {
		f.detrend()
		f.seg, f.width = halve(f.seg), f.width*2
		i = int(min(t/f.width, 1e6))
	}
	for len(f.seg) <= i {
		f.seg = append(f.seg, window{})
	}
	f.at, f.from, f.to = i, float64(i)*f.width, float64(i+1)*f.width
	f.seg[i].take(t, host-count-f.firstD-f.slope*t, on)
}

// level gathers the events kept so far into windows that reach to time t, once their
// slope is taken out.
func (f *Line) level(t float64) {
	f.detrend()
	if !f.ownShift {
		f.polled = findPolling(f.seg, f.slope)
	}
	for i := range f.seg[1:] {
		a, b := f.seg[i], &f.seg[i+1]
		if f.polled.on(int64(((b.t-a.t)*(1+f.slope) + b.d - a.d) * 1e9)) {
			b.u = b.d
		}
	}
	for f.width = leastWidthS; t >= mostWindows*f.width; {
		f.width *= 2
	}
	ws := make([]window, 0, mostWindows)
	for _, e := range f.seg {
		i := int(max(0, e.t/f.width))
		for len(ws) <= i {
			ws = append(ws, window{})
		}
		ws[i].take(e.t, e.d, e.u == e.d)
	}
	f.seg = ws
}

func (w *window) take(t, d float64, on bool) {
	if w.n == 0 {
		*w = window{t, d, 0, t, math.Inf(-1)}
	}
	if nextAsked(w.n) == w.n {
		if d < w.d {
			w.t, w.d = t, d
		}
		if on && d > w.u {
			w.tu, w.u = t, d
		}
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

// detrend takes out the slope seen so far.
func (f *Line) detrend() {
	slope := usualSlope(f.seg)
	for i := range f.seg {
		f.seg[i].d -= slope * f.seg[i].t
		f.seg[i].u -= slope * f.seg[i].tu
	}
	f.slope += slope
}
