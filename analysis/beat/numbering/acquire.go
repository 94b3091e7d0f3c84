package numbering

import (
	"math"

	"evenbeat/analysis/beat/robust"
)

const (
	// NearRate is how far the interval may lie from the nominal one: 1000 s/day is
	// 1.2 %, a poor resonator adds 0.5 %.
	NearRate = 0.04
	// farRate is how far it is looked for from the typical interval of the events
	// themselves, when no nominal one fits.
	farRate = 0.15
)

// gather takes an event while no beat is locked.
func (t *tracker) gather(at int64) {
	if t.skip > 0 {
		t.skip--
		t.Spurious++
		return
	}
	t.unplaced = append(t.unplaced, at)
	if !t.replaying {
		t.tryLock(false)
	}
}

// tryLock looks for the beat in what was gathered. last: no more will come.
func (t *tracker) tryLock(last bool) {
	want, near, interval := firstEvents, NearRate, t.nominal
	if t.acquired {
		want, near, interval = againEvents, NearRate/2, t.loop.interval
	}
	for !t.locked && len(t.unplaced) >= LeastEvents && (last || len(t.unplaced) >= want) {
		a, ok := acquire(t.unplaced, interval, near)
		if !ok && !t.acquired {
			a, ok = acquire(t.unplaced, 0, 0)
		}
		if ok {
			before := len(t.unplaced)
			if t.lock(a); t.locked || len(t.unplaced) < before {
				continue
			}
		}
		drop := max(1, len(t.unplaced)/3)
		if t.vain++; t.vain > 3 {
			// Noise: look ever more seldom, so that a file of it ends.
			drop = len(t.unplaced)
			t.skip = firstEvents << min(t.vain-3, 6)
		}
		t.Spurious += int64(drop)
		t.unplaced = append(t.unplaced[:0], t.unplaced[drop:]...)
	}
}

// lock begins a segment with what was gathered.
func (t *tracker) lock(a acquisition) {
	events := append([]int64(nil), t.unplaced...)
	t.unplaced = t.unplaced[:0]
	origin, due, offset := events[0], a.due, a.offset
	for due > a.interval/2 { // the first event may be an early one
		due, offset = due-a.interval, -offset
	}
	first := int64(0)
	// A stopped clock may start again on the other side: ticks stay ticks.
	if before := t.loop.offset; t.acquired && offset*before < 0 && min(math.Abs(offset), math.Abs(before)) > a.scatter/2 {
		first, offset = 1, -offset
	}
	if !t.acquired {
		t.out.segment.IntervalS, t.out.segment.OffsetS = a.interval*t.tickS, offset*t.tickS
		t.first = origin
	}
	t.loop = loop{
		origin: origin, k: first - 1, due: due - a.interval, interval: a.interval, inverse: 1 / a.interval,
		offset: offset, scatter: a.scatter, window: windowFor(a.interval, offset, a.scatter), heard: math.MaxUint64,
	}
	t.locked, t.acquired, t.next.waits, t.fresh = true, true, false, true
	t.Segments++
	t.vain = 0
	after := float64(origin-t.first) * t.tickS
	t.before = int64(math.Round(after / t.out.segment.IntervalS))
	t.out.begin(after)
	t.replaying = true
	for _, at := range events {
		t.add(at)
	}
	t.replaying = false
}

// acquisition is a steady beat found in some events, in ticks.
type acquisition struct {
	interval float64
	due      float64 // of beat 0, after the first event, without the offset
	offset   float64 // by which even beats come late and odd ones early
	scatter  float64 // standard deviation of a beat
	hits     int     // events that are beats
	slots    int     // beats there were
}

// acquire looks for a steady beat in times that rise, in ticks. interval is the
// interval to look near, within the fraction near; zero is to look where the
// events themselves lie thickest. It reports false for what is no steady beat.
func acquire(times []int64, interval, near float64) (acquisition, bool) {
	if len(times) < LeastEvents || times[len(times)-1] <= times[0] {
		return acquisition{}, false
	}
	t := make([]float64, len(times))
	for i, v := range times {
		t[i] = float64(v - times[0])
	}
	if interval <= 0 {
		interval, near = typical(t), farRate
	}
	if !(interval > 1) {
		return acquisition{}, false
	}
	a := acquisition{interval: scan(t, interval, near)}
	a.settle(t)
	ok := a.scatter < 0.2*a.interval && 2*a.hits >= a.slots && 2*a.hits >= len(t) && a.hits >= LeastEvents*3/4
	return a, ok
}

// typical returns half the median time over two intervals: tick and tock cancel.
func typical(t []float64) float64 {
	two := make([]float64, 0, len(t))
	for i := 2; i < len(t); i++ {
		two = append(two, t[i]-t[i-2])
	}
	return robust.Median(two) / 2
}

// scan returns the interval at which the events agree best: the greatest power of
// their sum as unit vectors at the beat's frequency and at half of it, where a
// clock out of beat shows.
func scan(t []float64, interval, near float64) float64 {
	step := 0.2 / t[len(t)-1]
	best := peak(t, (1-near)/interval, (1+near)/interval, step)
	return 1 / peak(t, best-step, best+step, step/16)
}

func peak(t []float64, low, high, step float64) float64 {
	const most = 600 // steps: four times what 96 beats in a row ask for
	n := int(min(max(1, (high-low)/step), most))
	best, at := -1.0, (low+high)/2
	for i := range n + 1 {
		f := low + (high-low)*float64(i)/float64(n)
		if p := power(t, f) + power(t, f/2); p > best {
			best, at = p, f
		}
	}
	return at
}

func power(t []float64, f float64) float64 {
	var c, s float64
	for _, v := range t {
		turns := v * f
		b, a := math.Sincos(2 * math.Pi * (turns - math.Floor(turns)))
		c += a
		s += b
	}
	n := float64(len(t))
	return (c*c + s*s) / (n * n)
}

// settle fits the rest: it starts where the events lie thickest, gives each beat
// the event nearest to it, and takes medians, several times over.
func (a *acquisition) settle(t []float64) {
	a.due = thickest(t, a.interval)
	a.scatter = 0.1 * a.interval
	var k, r []float64
	for range 4 {
		k, r = a.nearest(t, k[:0], r[:0])
		a.improve(k, r)
	}
	for i := range r {
		if math.Abs(r[i]) <= 6*a.scatter+2 {
			a.hits++
		}
	}
	a.slots = 1
	if len(k) > 0 {
		a.slots = int(k[len(k)-1]-k[0]) + 1
	}
}

// improve fits the beats k with the time errors r anew, and takes the offset from r.
func (a *acquisition) improve(k, r []float64) {
	even, odd := make([]float64, 0, len(k)), make([]float64, 0, len(k))
	for i := range k {
		if math.Mod(k[i], 2) == 0 {
			even = append(even, r[i])
		} else {
			odd = append(odd, r[i])
		}
	}
	me, mo := robust.Median(even), robust.Median(odd)
	a.due += (me + mo) / 2
	a.offset += (me - mo) / 2
	dev := make([]float64, len(k))
	for i := range k {
		r[i] -= (me + mo) / 2
		if math.Mod(k[i], 2) == 0 {
			r[i] -= (me - mo) / 2
		} else {
			r[i] += (me - mo) / 2
		}
		dev[i] = math.Abs(r[i])
	}
	a.scatter = max(robust.Deviation(dev), 0.3)
	slope, mid := trimmedLine(k, r, 4*a.scatter+2)
	a.interval += slope
	a.due -= slope * mid
}

// thickest returns when a beat is due, by the event that has most others near it,
// by phase; of equals the earliest, since the first edge is the truest.
func thickest(t []float64, interval float64) float64 {
	best, at := -1, 0.0
	for _, a := range t {
		n := 0
		for _, b := range t {
			if math.Abs(math.Remainder(b-a, interval)) < 0.05*interval {
				n++
			}
		}
		if n > best {
			best, at = n, math.Mod(a, interval)
		}
	}
	return at
}

// nearest gives each beat the event closest to when it is due; k are beat
// numbers, r time errors.
func (a *acquisition) nearest(t, k, r []float64) (kk, rr []float64) {
	for _, v := range t {
		n := math.Round((v - a.due) / a.interval)
		d := a.timeError(v, n)
		for _, m := range []float64{n - 1, n + 1} {
			if e := a.timeError(v, m); math.Abs(e) < math.Abs(d) {
				n, d = m, e
			}
		}
		switch last := len(k) - 1; {
		case last >= 0 && k[last] == n:
			if math.Abs(d) < math.Abs(r[last]) {
				r[last] = d
			}
		case last >= 0 && k[last] > n:
		default:
			k, r = append(k, n), append(r, d)
		}
	}
	return k, r
}

// timeError returns by how much an event at t is late for beat k.
func (a *acquisition) timeError(t, k float64) float64 {
	side := a.offset
	if math.Mod(k, 2) != 0 {
		side = -side
	}
	return t - a.due - k*a.interval - side
}

// trimmedLine returns the slope of a line through the points within limit of
// zero, and their mean k.
func trimmedLine(k, r []float64, limit float64) (slope, mid float64) {
	var n, sk, sr float64
	for i := range k {
		if math.Abs(r[i]) <= limit {
			n++
			sk += k[i]
			sr += r[i]
		}
	}
	if n < 3 {
		return 0, 0
	}
	mk, mr := sk/n, sr/n
	var kk, kr float64
	for i := range k {
		if math.Abs(r[i]) <= limit {
			kk += (k[i] - mk) * (k[i] - mk)
			kr += (k[i] - mk) * (r[i] - mr)
		}
	}
	if !(kk > 0) {
		return 0, mk
	}
	return kr / kk, mk
}
