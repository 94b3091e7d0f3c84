package timebase

import (
	"math"
	"sort"

	"evenbeat/sessions"
)

// Run takes beats as Next does while they are plain: count, host's time and UTC run on
// together. ticks is at least as long as beats. It returns how many it took. The beat
// after those needs Next.
func (c *Counter) Run(beats []sessions.Beat, ticks []int64) int {
	if !c.started || c.Bits == 0 || c.lowUTC != c.lowMono {
		return 0
	}
	mask, perCount := c.mask(), c.perCount
	prev, at, mono, low := c.prev, c.ticks, c.mono, c.lowMono
	apart := c.utc - c.mono
	scale := uint64(perCount * (1 + worstRate) * (1 - 1e-6) * 1e9 * (1 << scaleBits))
	most := uint64(math.MaxInt64) / (scale + 1)
	// The host may be ahead of the count by half a wrap at most.
	ahead := min(plainLateS, float64(mask/2)/c.Rate)
	n := 0
	for n < len(beats) {
		if low == 0 {
			k := onTime(beats[n:], ticks[n:], onTimeFrom{prev, mono, at, apart, mask, scale, min(most, plainStep)})
			if n += k; k > 0 {
				prev, mono, at = beats[n-1].Count, beats[n-1].HostMono, ticks[n-1]
			}
			if n == len(beats) {
				break
			}
		}
		b := &beats[n]
		plain, step := (b.Count-prev)&mask, uint64(b.HostMono-mono)
		if b.Break || b.HostUTC-b.HostMono != apart || plain|step >= plainStep {
			break
		}
		seconds, host := float64(int64(plain))*perCount, float64(int64(step))*1e-9
		if late := host - seconds; !(late > -plainEarlyS && late < ahead) || low+late > plainLateS {
			break
		}
		low = follow(low, host, seconds)
		at += int64(plain)
		ticks[n] = at
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

// onTimeFrom is the beat before those that onTime takes, and the bounds for them.
type onTimeFrom struct {
	prev       uint64
	mono, at   int64
	apart      int64  // UTC less the monotonic time
	mask       uint64 // of the counter
	scale      uint64 // ns a count by the worst resonator, a little less, times 2^scaleBits
	mostCounts uint64
}

// onTime takes beats as Run does, up to the first that came later than the worst
// resonator explains. Nearly none does. Their delay above the least stays 0, so that
// integer arithmetic is enough. It returns how many it took.
func onTime(beats []sessions.Beat, ticks []int64, f onTimeFrom) int {
	ticks = ticks[:len(beats)]
	prev, mono, at := f.prev, f.mono, f.at
	apart, mask, scale, mostCounts := f.apart, f.mask, f.scale, f.mostCounts
	for i := range beats {
		b := &beats[i]
		plain := (b.Count - prev) & mask
		early := int64(plain*scale>>scaleBits) - (b.HostMono - mono)
		if plain > mostCounts || uint64(early) > plainEarlyNs || b.HostUTC-b.HostMono != apart || b.Break {
			return i
		}
		prev, mono = b.Count, b.HostMono
		at += int64(plain)
		ticks[i] = at
	}
	return len(beats)
}

// A plain step has fewer counts and nanoseconds than plainStep, far from where float64
// loses digits, and is much nearer to its time than Next requires.
const (
	plainStep    = 1 << 40
	plainEarlyS  = earlyS / 2
	plainEarlyNs = plainEarlyS * 1e9
	scaleBits    = 20
	plainLateS   = lateS / 2
)

// AddRun adds beats that Run took. Their ticks last sec seconds each by the nominal
// rate.
func (f *Line) AddRun(beats []sessions.Beat, ticks []int64, sec float64) {
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
func (f *Line) addWithin(beats []sessions.Beat, ticks []int64, sec float64) int {
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
	w, start, firstD, slope := f.seg[f.at], f.start, f.firstD, f.slope
	for at := nextAsked(w.n); at < w.n+int64(n); at = nextAsked(at + 1) {
		i := at - w.n
		count := float64(ticks[i]) * sec
		t := count - start
		d := float64(beats[i].HostMono)*1e-9 - count - firstD - slope*t
		if d < w.d {
			w.t, w.d = t, d
		}
		if f.polled.sure && d > w.u {
			before := f.lastMono
			if i > 0 {
				before = beats[i-1].HostMono
			}
			if f.polled.on(beats[i].HostMono - before) {
				w.tu, w.u = t, d
			}
		}
	}
	w.n += int64(n)
	f.seg[f.at] = w
	f.lastMono, f.lastUTC = beats[n-1].HostMono, beats[n-1].HostUTC
	return n
}
