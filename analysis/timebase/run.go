package timebase

import "evenbeat/sessions"

// Run joins beats as Next does, as long as they are plain: count and host's time go
// on together, and UTC with the monotonic time. ticks is as long as beats, or
// longer. It returns how many it joined; the one after needs Next.
func (c *Counter) Run(beats []sessions.Beat, ticks []int64) int {
	if !c.started || c.Bits == 0 || c.lowUTC != c.lowMono {
		return 0
	}
	mask, half := c.mask(), float64(c.mask()/2)
	prev, at, mono, low := c.prev, c.ticks, c.mono, c.lowMono
	apart := c.utc - c.mono
	n := 0
	for i := range ticks[:len(beats)] {
		b := &beats[i]
		plain, step := (b.Count-prev)&mask, b.HostMono-mono
		if b.Break || b.HostUTC-b.HostMono != apart || plain > plainCounts || step < 0 || step > plainNs {
			break
		}
		counts, host := float64(int64(plain)), float64(step)*1e-9
		seconds := counts * c.perCount
		now := low + host - seconds
		if host*c.Rate-counts >= half || now < -earlyS || now > lateS {
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

// A plain step is one of fewer counts and less time than these: far from where
// either would lose digits.
const (
	plainCounts = 1 << 40
	plainNs     = 1 << 40
)

// AddRun adds beats that Run joined, with their ticks of sec seconds by the nominal
// rate.
func (f *Fit) AddRun(beats []sessions.Beat, ticks []int64, sec float64) {
	for i := range beats {
		b := &beats[i]
		count := float64(ticks[i]) * sec
		t := count - f.start
		if !f.started || t < f.from || t >= f.to || (b.HostUTC-f.lastUTC) != (b.HostMono-f.lastMono) {
			f.Add(count, b.HostMono, b.HostUTC, false)
			continue
		}
		f.lastMono, f.lastUTC = b.HostMono, b.HostUTC
		f.seg[f.at].take(t, float64(b.HostMono)*1e-9-count-f.firstD-f.tilt*t)
	}
}
