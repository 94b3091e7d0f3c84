package timebase

import "evenbeat/sessions"

// Run joins beats as Next does, as long as they are plain: count and host's time go
// on together, and UTC with the monotonic time. ticks is as long as beats, or
// longer. It returns how many it joined; the one after needs Next.
func (c *Counter) Run(beats []sessions.Beat, ticks []int64) int {
	if !c.started || c.Bits == 0 || c.lowUTC != c.lowMono {
		return 0
	}
	mask := c.mask()
	prev, at, mono, low := c.prev, c.ticks, c.mono, c.lowMono
	apart := c.utc - c.mono
	// The host may be ahead of the count by no more than half a wrap.
	most, perCount := min(plainLateS, float64(mask/2)/c.Rate), c.perCount
	n := 0
	for i := range ticks[:len(beats)] {
		b := &beats[i]
		plain, step := (b.Count-prev)&mask, uint64(b.HostMono-mono)
		if b.Break || b.HostUTC-b.HostMono != apart || plain|step >= plainStep {
			break
		}
		seconds, host := float64(int64(plain))*perCount, float64(int64(step))*1e-9
		if ahead := host - seconds; !(ahead > -plainEarlyS && ahead < most) || low+ahead > plainLateS {
			break
		}
		low = follow(low, host, seconds)
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
	plainStep   = 1 << 40
	plainEarlyS = earlyS / 2
	plainLateS  = lateS / 2
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
	w := f.seg[f.at]
	n := 0
	for i := range ticks[:len(beats)] {
		count := float64(ticks[i]) * sec
		t := count - f.start
		if t < f.from || t >= f.to {
			break
		}
		if d := float64(beats[i].HostMono)*1e-9 - count - f.firstD - f.tilt*t; d < w.d {
			w.t, w.d = t, d
		}
		n++
	}
	w.n += int64(n)
	f.seg[f.at] = w
	if n > 0 {
		f.lastMono, f.lastUTC = beats[n-1].HostMono, beats[n-1].HostUTC
	}
	return n
}
