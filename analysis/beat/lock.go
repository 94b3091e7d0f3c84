package beat

import (
	"math"
	"slices"
)

// lock is a first hold on the beat: how long an interval is, when the first beat
// was due, how far tick and tock lie apart and how much beats scatter. In ticks.
type lock struct {
	interval float64
	due      float64 // of beat 0, after the first event; the mean of tick and tock
	apart    float64 // by which even beats come later than the mean, odd ones earlier
	spread   float64 // standard deviation of a beat
	hits     int     // events that are beats
	slots    int     // beats there were
}

const (
	// nearRate is how far the interval may lie from the nominal one: 1000 s/day is
	// 1.2 %, a poor resonator adds 0.5 %.
	nearRate = 0.04
	// farRate is how far it is looked for from the typical interval of the events
	// themselves, when no nominal one fits.
	farRate = 0.15
)

// findLock looks for a steady beat in times that rise, in ticks. interval is the
// interval to look near, within the fraction near; zero is to look where the
// events themselves lie thickest. It reports false for what is no steady beat.
func findLock(times []int64, interval, near float64) (lock, bool) {
	if len(times) < leastEvents || times[len(times)-1] <= times[0] {
		return lock{}, false
	}
	t := make([]float64, len(times))
	for i, v := range times {
		t[i] = float64(v - times[0])
	}
	if interval <= 0 {
		interval, near = typical(t), farRate
	}
	if !(interval > 1) {
		return lock{}, false
	}
	l := lock{interval: scan(t, interval, near)}
	l.settle(t)
	ok := l.spread < 0.2*l.interval && 2*l.hits >= l.slots && 2*l.hits >= len(t) && l.hits >= leastEvents*3/4
	return l, ok
}

// typical returns half the median time over two intervals: tick and tock cancel.
func typical(t []float64) float64 {
	two := make([]float64, 0, len(t))
	for i := 2; i < len(t); i++ {
		two = append(two, t[i]-t[i-2])
	}
	return median(two) / 2
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// scan returns the interval at which the events agree best: the greatest power of
// their sum as unit vectors at the beat's frequency and at half of it, where a
// clock out of beat shows.
func scan(t []float64, interval, near float64) float64 {
	span := t[len(t)-1]
	step := 0.2 / span
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
		b, a := sincosOf(v * f)
		c += a
		s += b
	}
	n := float64(len(t))
	return (c*c + s*s) / (n * n)
}

// settle fits the rest: it starts where the events lie thickest, gives each beat
// the event nearest to it, and takes medians, three times over.
func (l *lock) settle(t []float64) {
	l.due = thickest(t, l.interval)
	l.spread = 0.1 * l.interval
	var k, r []float64
	for range 4 {
		k, r = l.nearest(t, k[:0], r[:0])
		even, odd := make([]float64, 0, len(k)), make([]float64, 0, len(k))
		for i := range k {
			if math.Mod(k[i], 2) == 0 {
				even = append(even, r[i])
			} else {
				odd = append(odd, r[i])
			}
		}
		me, mo := median(even), median(odd)
		l.due += (me + mo) / 2
		l.apart += (me - mo) / 2
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
		l.spread = max(1.4826*median(dev), 0.3)
		slope, mid := trimmedLine(k, r, 4*l.spread+2)
		l.interval += slope
		l.due -= slope * mid
	}
	l.hits = 0
	for i := range r {
		if math.Abs(r[i]) <= 6*l.spread+2 {
			l.hits++
		}
	}
	l.slots = 1
	if len(k) > 0 {
		l.slots = int(k[len(k)-1]-k[0]) + 1
	}
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
// numbers, r distances.
func (l *lock) nearest(t, k, r []float64) (kk, rr []float64) {
	for _, v := range t {
		n := math.Round((v - l.due) / l.interval)
		d := v - l.due - n*l.interval - l.side(n)
		for _, m := range []float64{n - 1, n + 1} {
			if e := v - l.due - m*l.interval - l.side(m); math.Abs(e) < math.Abs(d) {
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

func (l *lock) side(k float64) float64 {
	if math.Mod(k, 2) == 0 {
		return l.apart
	}
	return -l.apart
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
