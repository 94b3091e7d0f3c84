package timebase

import "math"

// Counter joins the counts of a free-running counter into one line of ticks that
// never wraps, and says where that can't be done. Set Rate and Bits and call Next
// for each event in order.
type Counter struct {
	Rate float64 // counts a second, nominal; above 0
	// Bits is the counter's width, 8 to 64. Zero lets the counts tell: the first
	// time they fall, the smallest of 16, 24 and 32 bits that makes the fall a
	// plain step of time is taken.
	Bits int

	started   bool
	perCount  float64 // seconds, 1/Rate
	prev      uint64
	most      uint64
	ticks     int64
	mono, utc int64
	lowMono   float64 // lowest host time less count time of late, seconds
	lowUTC    float64
}

// Joint is how an event's count hangs together with the one before.
type Joint uint8

// The joints.
const (
	Joined      Joint = iota // the ticks since the event before are known
	HostJumped               // they are known, but the host's monotonic time stood still or leapt
	CountBroken              // they are not known: the counter started anew, or wrapped unseen
)

const (
	// A resonator is taken to be within 1 % of its nominal rate: twice the
	// tolerance of the poorest ceramic ones (common practice, no source).
	worstRate = 0.01
	// earlyS is by how much an event may seem to come before it happened: stamps
	// are taken with the clock of a busy machine.
	earlyS = 0.25
	// lateS is how long a busy host may sit on a line before it is taken for a
	// lost join rather than for a late one.
	lateS = 5.0
	// plainStepS is the longest step across a fall of the count that is taken for
	// a wrap when no host time tells: the slowest turret clock beats each 2 s.
	plainStepS = 30.0
)

// mask returns the counter's modulus less one.
func (c *Counter) mask() uint64 {
	if c.Bits <= 0 || c.Bits >= 64 {
		return math.MaxUint64
	}
	return 1<<uint(c.Bits) - 1
}

// NextBare joins a count that came without host time. A fall of the count that no
// wrap explains is CountBroken; a fall of less than maxBack ticks is an event out
// of order and steps back.
func (c *Counter) NextBare(count uint64, maxBack int64) (ticks int64, j Joint) {
	if !c.started {
		c.started, c.prev, c.most, c.ticks = true, count, count, 0
		return 0, CountBroken
	}
	prev := c.prev
	c.prev = count
	c.most = max(c.most, count)
	if count >= prev {
		step := count - prev
		if step > math.MaxInt64/4 {
			return c.ticks, CountBroken
		}
		c.ticks += int64(step)
		return c.ticks, Joined
	}
	if back := prev - count; maxBack > 0 && back < uint64(maxBack) {
		c.prev = prev // so that the next step is from the later of the two
		return c.ticks - int64(back), Joined
	}
	bits := []int{c.Bits}
	if c.Bits == 0 {
		bits = []int{16, 24, 32}
	}
	for _, b := range bits {
		if b < 64 && c.most>>uint(b) != 0 {
			continue
		}
		step := float64(count - prev) // mod 2^64
		if b < 64 {
			step = float64((count - prev) & (1<<uint(b) - 1))
		}
		if step <= plainStepS*c.Rate {
			c.Bits = b
			c.ticks += int64(step)
			return c.ticks, Joined
		}
	}
	return c.ticks, CountBroken
}

// Rising joins counts that came without host time, as NextBare does, up to the
// first that is less than the one before; ticks is as long as counts, or longer. It
// returns how many it joined.
func (c *Counter) Rising(counts []uint64, ticks []int64) int {
	if !c.started {
		return 0
	}
	prev, at := c.prev, c.ticks
	n := 0
	for i, count := range counts {
		step := count - prev
		if count < prev || step > math.MaxInt64/4 {
			break
		}
		at += int64(step)
		ticks[i] = at
		prev = count
		n++
	}
	c.prev, c.ticks = prev, at
	c.most = max(c.most, prev)
	return n
}

// Next joins a count to the one before, with the host's monotonic time and UTC of
// its arrival in nanoseconds. Whole wraps that passed unseen are told by the
// host's time. After CountBroken the ticks go on from the last, as if no time had
// passed: the caller begins a new segment.
func (c *Counter) Next(count uint64, mono, utc int64, broken bool) (ticks int64, j Joint) {
	if !c.started || broken {
		c.restart(count, mono, utc)
		return c.ticks, CountBroken
	}
	c.most = max(c.most, count)
	if c.Bits == 0 && count < c.prev {
		c.guessBits(count, float64(mono-c.mono)*1e-9)
	}
	dMono, dUTC := float64(mono-c.mono)*1e-9, float64(utc-c.utc)*1e-9
	together := utc-c.utc == mono-c.mono && c.lowUTC == c.lowMono // as nearly always
	step, ok := c.fits(count, dMono, &c.lowMono)
	j = Joined
	if !ok {
		// The monotonic time of most systems stands still while they sleep; UTC
		// doesn't. If UTC explains the count, the count runs on.
		step, ok = c.fits(count, dUTC, &c.lowUTC)
		j = HostJumped
	}
	if !ok {
		c.restart(count, mono, utc)
		return c.ticks, CountBroken
	}
	c.ticks += step
	s := float64(step) * c.perCount
	if j == HostJumped {
		c.lowMono = 0
	} else {
		c.lowMono = follow(c.lowMono, dMono, s)
	}
	if together && j == Joined && c.lowMono <= lateS {
		c.lowUTC = c.lowMono
	} else if low := c.lowUTC + dUTC - s; math.Abs(low) > lateS {
		c.lowUTC = 0 // the host's clock was set
	} else {
		c.lowUTC = follow(c.lowUTC, dUTC, s)
	}
	c.prev, c.mono, c.utc = count, mono, utc
	return c.ticks, j
}

// follow carries the distance of the last event from the lowest of late: 0 for an
// event that came with the least delay, positive for a late one. The floor may
// rise or fall as fast as the worst resonator makes it.
func follow(late, host, count float64) float64 {
	// A branch, not max: it is foreseen, and then nothing waits for the event before.
	if late += host - count - worstRate*count; late > 0 {
		return late
	}
	return 0
}

// fits finds the ticks since the event before that agree with the host's time.
// late is how much later than the least delay that event had come.
func (c *Counter) fits(count uint64, host float64, late *float64) (step int64, ok bool) {
	if host < -earlyS || host > 1e9 {
		return 0, false
	}
	mask := c.mask()
	plain := (count - c.prev) & mask
	if plain > math.MaxInt64/4 {
		return 0, false
	}
	raw := float64(int64(plain))
	if over := host*c.Rate - raw; over > 127 && over >= float64(mask)/2 { // of 8 bits, the fewest
		modulus := float64(mask) + 1
		if raw += math.Round(over/modulus) * modulus; raw > math.MaxInt64/4 {
			return 0, false
		}
	}
	seconds := raw * c.perCount
	now := *late + host - seconds // this event's lateness
	if now < -earlyS || now > lateS {
		slack := worstRate * max(seconds, host)
		if now < -earlyS-slack || now > lateS+slack {
			return 0, false
		}
	}
	return int64(raw), true
}

func (c *Counter) guessBits(count uint64, host float64) {
	for _, b := range []int{16, 24, 32} {
		if c.most>>uint(b) != 0 {
			continue
		}
		step := float64((count-c.prev)&(1<<uint(b)-1)) / c.Rate
		span := math.Ldexp(1, b) / c.Rate
		off := math.Remainder(host-step, span)
		if math.Abs(off) < min(earlyS+worstRate*host, span/4) {
			c.Bits = b
			return
		}
	}
}

func (c *Counter) restart(count uint64, mono, utc int64) {
	c.started, c.prev, c.mono, c.utc = true, count, mono, utc
	c.perCount = 1 / c.Rate
	c.most = max(c.most, count)
	c.lowMono, c.lowUTC = 0, 0
}
