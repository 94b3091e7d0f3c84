package timebase

import "math"

// Counter turns the counts of a free-running counter into ticks that never wrap, and
// says where that can't be done. Set Rate and Bits, and call Next for each event in
// order.
type Counter struct {
	Rate float64 // counts a second, nominal; above 0
	// Bits is the counter's width, 8 to 64. With zero it is found when the counts first
	// fall: the smallest of 16, 24 and 32 bits that makes the fall a plain step of time.
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

// Joint says how an event's count follows from the one before.
type Joint uint8

// The joints.
const (
	Joined      Joint = iota // the ticks since the event before are known
	HostJumped               // they are known, but the host's monotonic time stood still or jumped
	CountBroken              // they are not known: the counter was reset, or wrapped unseen
)

const (
	// A resonator is taken to be within 1 % of its nominal rate: twice the
	// tolerance of the poorest ceramic ones (common practice, no source).
	worstRate = 0.01
	// earlyS is by how much an event may seem to come before it happened, because a
	// busy machine takes the stamps.
	earlyS = 0.25
	// lateS is the longest delay of a message on a busy host. Beyond it the count is
	// taken as broken.
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

// NextBare takes a count that came without host time. A fall of the count that no wrap
// explains is CountBroken. A fall of less than maxBack ticks is an event out of order,
// and the ticks step back.
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

// Rising takes counts without host time as NextBare does, up to the first that is less
// than the one before. ticks is at least as long as counts. It returns how many it took.
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

// Next takes the next count, with the host's monotonic time and UTC of its arrival in
// nanoseconds. Whole wraps without an event are found by the host's time. After
// CountBroken the ticks go on from the last as if no time had passed, and the caller
// begins a new segment.
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
	step, ok := c.stepBy(count, dMono, &c.lowMono)
	j = Joined
	if !ok {
		// On most systems the monotonic time stands still during sleep, and UTC
		// doesn't. If UTC explains the count, the count runs on.
		step, ok = c.stepBy(count, dUTC, &c.lowUTC)
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

// follow returns the delay of an event above the least delay, from that of the event
// before: 0 for the least delay, positive for a late event. The least delay may rise or
// fall as fast as the worst resonator makes it.
func follow(late, host, count float64) float64 {
	// A branch, not max: it is predicted, and then nothing waits for the event before.
	if late += host - count - worstRate*count; late > 0 {
		return late
	}
	return 0
}

// stepBy finds the ticks since the event before that agree with the host's time. late
// is that event's delay above the least.
func (c *Counter) stepBy(count uint64, host float64, late *float64) (step int64, ok bool) {
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
