package beat

import (
	"math"
	"math/bits"
)

const (
	firstEvents = 96 // gathered before the first hold on the beat
	againEvents = 32 // before a new one after a stop
	leastEvents = 10
	// lostAfter beats in a row unheard end a segment: one beat in ten missed at
	// random makes that once in a hundred million beats, a stopped clock at once.
	lostAfter = 8
	// fewOf16 beats heard of the last sixteen: what was heard is no clock.
	fewOf16 = 6
)

// follower gives every event its beat number or finds it spurious, event by
// event. It expects each beat where the ones before put it, a loop of second
// order with a tick/tock term, and takes the event nearest to it.
type follower struct {
	sec     float64 // seconds a tick
	nominal float64 // ticks; 0 = not known
	grid    *grid
	strays  *strays // nil where the escape wheel isn't known

	waiting []int64 // events gathered for a hold, or unplaced since the last beat
	held    bool
	known   bool // there was a hold before: interval, apart and spread are good
	origin  int64

	interval, inverse float64 // ticks, and 1/ticks
	apart             float64
	spread            float64
	gate              float64
	due               float64 // when beat k was due, after origin, tick and tock apart
	k                 int64
	hits              uint64

	pending bool
	pk, pt  int64
	pr      float64

	beats, missed, spurious, segments int64
	loose                             int64 // events no hold was found for
	span                              int64 // ticks from first to last beat of each segment, summed
	first, last                       int64
	replaying                         bool // add is fed what a hold was found in
	vain, skip                        int  // looks for a hold without success, events to let go by
	fresh                             bool // no beat of this segment was numbered yet
}

const (
	phaseGain    = 0.1
	intervalGain = phaseGain * phaseGain / 4
	apartGain    = 1.0 / 64
	spreadGain   = 1.0 / 64
	dueGain      = phaseGain + intervalGain
	deviation    = 1.2533141 // √(π/2): from the mean distance to the standard deviation
)

// add takes the next event, in ticks.
func (f *follower) add(t int64) {
	if !f.held {
		if f.skip > 0 {
			f.skip--
			f.loose++
			return
		}
		f.waiting = append(f.waiting, t)
		if !f.replaying {
			f.tryHold(false)
		}
		return
	}
	if f.pending {
		if float64(t-f.pt) <= 2*math.Abs(f.pr) {
			f.rival(t)
			return
		}
		if f.commit(); !f.held {
			f.add(t)
			return
		}
	}
	n, r := f.place(t)
	if n >= lostAfter {
		f.waiting = append(f.waiting, t)
		f.spurious++ // until lose counts it back
		f.lose()
		return
	}
	if n < 1 || r > f.gate || r < -f.gate {
		f.spurious++
		if n >= 1 {
			f.waiting = append(f.waiting, t)
			f.stray(n, r)
		}
		return
	}
	f.pending, f.pk, f.pt, f.pr = true, f.k+n, t, r
}

// stray tells of an event near the beat n after the last, yet too far off to be it.
func (f *follower) stray(n int64, late float64) {
	if math.Abs(late) < strayReach*f.interval {
		f.strays.add(f.grid.seg, f.k+n, late*f.sec)
	}
}

// place returns how many beats after the last one an event is, and how late.
func (f *follower) place(t int64) (n int64, late float64) {
	d := float64(t-f.origin) - f.due
	side := f.apart
	if f.k&1 == 0 {
		side = -side // of the next beat
	}
	if late = float64(t-f.origin) - (f.due + (f.interval + side)); late < f.gate && late > -f.gate {
		return 1, late
	}
	m := math.Floor(d*f.inverse + 0.5)
	if m > 1e12 || m < -1e12 {
		return int64(max(-1e12, min(m, 1e12))), 0
	}
	late = math.Inf(1)
	for _, c := range [...]int64{int64(m), int64(m) - 1, int64(m) + 1} {
		s := f.apart
		if (f.k+c)&1 != 0 {
			s = -s
		}
		if l := d - float64(c)*f.interval - s; math.Abs(l) < math.Abs(late) {
			n, late = c, l
		}
	}
	return n, late
}

// rival settles which of two events for one beat is nearer to when it is due.
func (f *follower) rival(t int64) {
	f.spurious++
	if n, r := f.place(t); f.k+n == f.pk && math.Abs(r) < math.Abs(f.pr) {
		f.pt, f.pr = t, r
	}
}

// commit numbers the event that waits, and lets the next ones be expected by it.
func (f *follower) commit() {
	f.pending = false
	g, r := f.pk-f.k, f.pr
	fg := float64(g)
	f.due = f.due + fg*f.interval + dueGain*r
	f.interval += intervalGain * r / fg
	if g > 1 && !f.fresh {
		f.missed += g - 1
	}
	f.k = f.pk
	f.spread = (1-spreadGain)*f.spread + spreadGain*deviation*min(math.Abs(r), 3*f.spread)
	side := r
	if f.k&1 != 0 {
		side = -r
	}
	f.apart += apartGain * side
	if len(f.waiting) > 0 {
		f.waiting = f.waiting[:0]
	}
	f.beats++
	if !f.fresh {
		f.span += f.pt - f.last
	}
	f.fresh, f.last = false, f.pt
	f.grid.put(f.k, float64(f.pt-f.origin)*f.sec)
	f.hits = f.hits<<uint(g) | 1
	if f.k%lookEvery == 0 {
		f.inverse = 1 / f.interval
		f.gate = gateFor(f.interval, f.apart, f.spread)
		if sparse(f.hits) && f.k > 32 {
			f.lose()
		}
	}
}

// lookEvery beats the gate is set anew, and it is asked whether the hold is still good.
const lookEvery = 16

func sparse(hits uint64) bool { return bits.OnesCount16(uint16(hits)) < fewOf16 }

// gateFor returns how far off an event may be to be taken for the beat, in ticks.
func gateFor(interval, apart, spread float64) float64 {
	room := 0.4 * (interval - 2*math.Abs(apart))
	return min(max(6*spread+2, 0.004*interval), max(room, 0.1*interval))
}

// lose ends the segment: the clock stopped, was started again or jumped, and what
// number the next beat has can't be known. What came since the last beat may be
// the first of the next segment.
func (f *follower) lose() {
	f.held = false
	f.spurious -= int64(len(f.waiting))
	if f.fresh {
		f.segments-- // not one beat of it was numbered
	}
	if !f.replaying {
		f.tryHold(false)
	}
}

// cut ends the segment because the ticks don't go on from the last event.
func (f *follower) cut() {
	f.settle()
	f.held = false
	f.waiting = f.waiting[:0]
}

// settle numbers or gives up what still waits, when no more events will follow on.
func (f *follower) settle() {
	if f.pending {
		f.commit()
	}
	if !f.held {
		f.tryHold(true)
		if f.pending {
			f.commit()
		}
	}
	if !f.held {
		f.loose += int64(len(f.waiting))
		f.waiting = f.waiting[:0]
	}
}

// tryHold looks for the beat in what was gathered. last: no more will come.
func (f *follower) tryHold(last bool) {
	want, near, interval := firstEvents, nearRate, f.nominal
	if f.known {
		want, near, interval = againEvents, nearRate/2, f.interval
	}
	for !f.held && len(f.waiting) >= leastEvents && (last || len(f.waiting) >= want) {
		l, ok := findLock(f.waiting, interval, near)
		if !ok && !f.known {
			l, ok = findLock(f.waiting, 0, 0)
		}
		if ok {
			before := len(f.waiting)
			if f.hold(l); f.held || len(f.waiting) < before {
				continue
			}
		}
		drop := max(1, len(f.waiting)/3)
		if f.vain++; f.vain > 3 {
			// Noise: look ever more seldom, so that a file of it ends.
			drop = len(f.waiting)
			f.skip = firstEvents << min(f.vain-3, 6)
		}
		f.loose += int64(drop)
		f.waiting = append(f.waiting[:0], f.waiting[drop:]...)
	}
}

// hold begins a segment with what was gathered.
func (f *follower) hold(l lock) {
	events := append([]int64(nil), f.waiting...)
	f.waiting = f.waiting[:0]
	f.origin = events[0]
	due, apart := l.due, l.apart
	for due > l.interval/2 { // the first event may be an early one
		due, apart = due-l.interval, -apart
	}
	first := int64(0)
	// A stopped clock may start again on the other side: ticks stay ticks.
	if f.known && apart*f.apart < 0 && min(math.Abs(apart), math.Abs(f.apart)) > l.spread/2 {
		first, apart = 1, -apart
	}
	if !f.known {
		f.grid.begin(l.interval*f.sec, apart*f.sec)
		f.first = events[0]
	}
	f.interval, f.inverse, f.apart, f.spread = l.interval, 1/l.interval, apart, l.spread
	f.gate = gateFor(f.interval, f.apart, f.spread)
	f.k, f.due = first-1, due-l.interval
	f.hits = math.MaxUint64
	f.held, f.known, f.pending, f.fresh = true, true, false, true
	f.segments++
	f.vain = 0
	f.grid.segment(float64(f.origin-f.first) * f.sec)
	f.replaying = true
	for _, t := range events {
		f.add(t)
	}
	f.replaying = false
}
