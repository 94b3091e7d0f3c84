package timebase

import (
	"math"
	"sort"

	"evenbeat/sessions"
)

// Run joins beats as Next does, as long as they are plain: count and host's time go
// on together, and UTC with the monotonic time. ticks is as long as beats, or
// longer. It returns how many it joined; the one after needs Next.
func (c *Counter) Run(beats []sessions.Beat, ticks []int64) int {
	if !c.started || c.Bits == 0 || c.lowUTC != c.lowMono {
		return 0
	}
	mask, perCount := c.mask(), c.perCount
	prev, at, mono, low := c.prev, c.ticks, c.mono, c.lowMono
	apart := c.utc - c.mono
	// A beat that is no later than the worst resonator would make it leaves the lowest
	// delay at nothing; that is nearly every one, and whole numbers tell.
	scale := uint64(perCount * (1 + worstRate) * (1 - 1e-6) * 1e9 * (1 << scaleBits))
	quick := uint64(math.MaxInt64) / (scale + 1)
	// The host may be ahead of the count by no more than half a wrap.
	most := min(plainLateS, float64(mask/2)/c.Rate)
	n := 0
	for i := range ticks[:len(beats)] {
		b := &beats[i]
		plain, step := (b.Count-prev)&mask, uint64(b.HostMono-mono)
		if b.Break || b.HostUTC-b.HostMono != apart || plain|step >= plainStep {
			break
		}
		if low != 0 || plain > quick || uint64(int64(plain*scale>>scaleBits)-int64(step)) > plainEarlyNs {
			seconds, host := float64(int64(plain))*perCount, float64(int64(step))*1e-9
			if ahead := host - seconds; !(ahead > -plainEarlyS && ahead < most) || low+ahead > plainLateS {
				break
			}
			low = follow(low, host, seconds)
		}
		at += int64(plain)
		ticks[i] = at
		prev, mono = b.Count, b.HostMono
		n++
	}
	if n > 0 {
		c.most = max(c.most, prev) // a fall is a wrap of a counter whose width is known
	}
	c.prev, c.ticks, c.mono, c.utc = prev, at, mono, mono+apart
	c.lowMono, c.lowUTC = low, low
	return n
}

// A plain step is of fewer counts and nanoseconds than plainStep, far from where either
// would lose digits, and comes a good deal nearer to its time than Next asks for.
const (
	plainStep    = 1 << 40
	plainEarlyS  = earlyS / 2
	plainEarlyNs = plainEarlyS * 1e9
	scaleBits    = 20
	plainLateS   = lateS / 2
)

// AddRun adds beats that Run joined, with their ticks of sec seconds by the nominal
// rate.
func (f *Fit) AddRun(beats []sessions.Beat, ticks []int64, sec float64) {
	for len(beats) > 0 {
		n := f.addWithin(beats, ticks, sec)
		if beats, ticks = beats[n:], ticks[n:]; len(beats) > 0 {
			f.Add(float64(ticks[0])*sec, beats[0].HostMono, beats[0].HostUTC, false)
			beats, ticks = beats[1:], ticks[1:]
		}
	}
}

// addWithin adds the beats that fall into the window of the event before, and returns
// how many.
func (f *Fit) addWithin(beats []sessions.Beat, ticks []int64, sec float64) int {
	if !f.started || f.seg[f.at].n == 0 || beats[0].HostUTC-f.lastUTC != beats[0].HostMono-f.lastMono {
		return 0
	}
	within := func(i int) bool {
		t := float64(ticks[i])*sec - f.start
		return t >= f.from && t < f.to
	}
	if !within(0) {
		return 0
	}
	n := len(beats)
	if !within(n - 1) { // ticks don't fall
		n = sort.Search(n, func(i int) bool { return !within(i) })
	}
	w, start, firstD, tilt := f.seg[f.at], f.start, f.firstD, f.tilt
	for at := nextAsked(w.n); at < w.n+int64(n); at = nextAsked(at + 1) {
		i := at - w.n
		count := float64(ticks[i]) * sec
		t := count - start
		if d := float64(beats[i].HostMono)*1e-9 - count - firstD - tilt*t; d < w.d {
			w.t, w.d = t, d
		}
	}
	w.n += int64(n)
	f.seg[f.at] = w
	f.lastMono, f.lastUTC = beats[n-1].HostMono, beats[n-1].HostUTC
	return n
}
