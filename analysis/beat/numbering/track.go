package numbering

import (
	"math"
	"math/bits"
)

const (
	firstEvents = 96 // gathered before the beat is first acquired
	againEvents = 32 // before it is acquired again after a stop
	// LeastEvents are needed to acquire a beat.
	LeastEvents = 10
	// LostAfter beats in a row unheard end a segment: one beat in ten missed at
	// random makes that once in a hundred million beats, a stopped clock at once.
	LostAfter = 8
	// mostOff beats in a row may be off and still be those beats: a tooth of the centre
	// wheel, of eighty or so, holds its pinion for 90 half-second beats.
	mostOff = 128
	// fewOf16 beats heard of the last sixteen: what was heard is no clock.
	fewOf16 = 6
	// lookEvery beats the acceptance window is set anew, and the lock is checked.
	lookEvery = 16
)

// Gains of the tracking loop.
const (
	phaseGain    = 0.1
	intervalGain = phaseGain * phaseGain / 4
	offsetGain   = 1.0 / 64
	scatterGain  = 1.0 / 64
	dueGain      = phaseGain + intervalGain
	deviation    = 1.2533141 // √(π/2): from the mean distance to the standard deviation
)

// tracker gives every event its beat number or finds it spurious, event by event. A
// tracking loop predicts each beat from the ones before, and the event nearest to the
// prediction is taken for it.
type tracker struct {
	tickS    float64 // seconds a tick
	nominal  float64 // interval in ticks; 0 = not known
	out      layout
	beat     func(number, ticks int64, off bool) // called for every beat numbered, if not nil
	outliers *Outliers                           // nil where the escape wheel isn't known

	locked   bool // the loop follows a beat
	acquired bool // it did before: interval, offset and scatter are good
	loop     loop
	next     candidate
	fresh    bool  // no beat of this segment was numbered yet
	before   int64 // beats that the clock would have made before this segment

	unplaced   []int64 // events gathered to acquire the beat, or in no window since the last beat
	replaying  bool    // add is fed the events that the beat was acquired from
	vain, skip int     // tries without success, events to let go by

	Tally
	extra       int64 // spurious events as near a beat that was heard as late ones may be
	span        int64 // ticks from first to last beat of each segment, summed
	first, last int64
}

// candidate is the event taken for beat k. It waits until no later event can be
// nearer.
type candidate struct {
	waits bool
	k, t  int64
	err   float64 // time error against the prediction, ticks
}

// loop is a tracking loop of second order with a term for the tick–tock offset. It
// works in ticks after the segment's origin.
type loop struct {
	origin            int64
	k                 int64   // number of the last beat
	due               float64 // when it was due, without the offset
	interval, inverse float64 // and 1/interval
	offset            float64 // by which even beats come late and odd ones early
	scatter           float64 // standard deviation of a beat
	window            float64 // acceptance window: how far off an event may be
	heard             uint64  // a bit for each of the last beats
}

// add takes the next event, in ticks.
func (t *tracker) add(at int64) {
	if !t.locked {
		t.gather(at)
		return
	}
	if t.next.waits {
		if float64(at-t.next.t) <= 2*math.Abs(t.next.err) {
			t.contest(at)
			return
		}
		if t.commit(); !t.locked {
			t.add(at)
			return
		}
	}
	n, err := t.loop.nearest(at)
	switch {
	case n >= LostAfter && !t.runsOn(n, err):
		t.unplaced = append(t.unplaced, at)
		t.lose()
	case n < 1:
		t.beside(err)
	case err > t.loop.window || err < -t.loop.window:
		t.unplaced = append(t.unplaced, at)
	default:
		t.next = candidate{waits: true, k: t.loop.k + n, t: at, err: err}
	}
}

// runsOn reports whether the events in no window, with one that is n beats after the last
// beat and off by err, are the same beat gone on, late or early: a bad tooth of a slow
// wheel holds the beat back until the next one meshes. Nearly all beats due have one near.
func (t *tracker) runsOn(n int64, err float64) bool {
	if n >= mostOff {
		return false
	}
	reach, near := lateReach*t.loop.interval, int64(0)
	if math.Abs(err) < reach {
		near++
	}
	for _, at := range t.unplaced {
		if _, err := t.loop.nearest(at); math.Abs(err) < reach {
			near++
		}
	}
	return 8*near >= 7*n
}

// contest settles which of two events for one beat is nearer to when it is due.
func (t *tracker) contest(at int64) {
	n, err := t.loop.nearest(at)
	if t.loop.k+n == t.next.k && math.Abs(err) < math.Abs(t.next.err) {
		t.next.t, t.next.err, err = at, err, t.next.err
	}
	t.beside(err)
}

// commit numbers the candidate.
func (t *tracker) commit() {
	t.next.waits = false
	ahead := t.next.k - t.loop.k
	if len(t.unplaced) > 0 {
		t.place(ahead, t.next.err)
	}
	t.loop.update(ahead, t.next.err)
	if ahead > LostAfter {
		t.loop.heard = math.MaxUint64 // all were, though off
	}
	t.number(t.next, false)
	if t.loop.k%lookEvery == 0 && sparse(t.loop.heard) && t.loop.k > 32 {
		t.lose()
	}
}

// number gives an event its beat. off says that it came too late or too early to be
// summed.
func (t *tracker) number(c candidate, off bool) {
	if !t.fresh {
		t.Missed += c.k - t.out.beat
		t.span += c.t - t.last
	}
	t.Beats++
	t.fresh, t.last = false, c.t
	if t.beat != nil {
		t.beat(t.before+c.k, c.t, off)
	}
	t.out.put(c.k, float64(c.t-t.loop.origin)*t.tickS, off)
}

func sparse(heard uint64) bool { return bits.OnesCount16(uint16(heard)) < fewOf16 }

// nearest returns how many beats after the last one an event is, and its time error.
func (l *loop) nearest(at int64) (n int64, err float64) {
	d := float64(at-l.origin) - l.due
	side := l.offset
	if l.k&1 == 0 {
		side = -side // of the next beat
	}
	if err = float64(at-l.origin) - (l.due + (l.interval + side)); err < l.window && err > -l.window {
		return 1, err
	}
	m := math.Floor(d*l.inverse + 0.5)
	if m > 1e12 || m < -1e12 {
		return int64(max(-1e12, min(m, 1e12))), 0
	}
	err = math.Inf(1)
	for _, c := range [...]int64{int64(m), int64(m) - 1, int64(m) + 1} {
		s := l.offset
		if (l.k+c)&1 != 0 {
			s = -s
		}
		if e := d - float64(c)*l.interval - s; math.Abs(e) < math.Abs(err) {
			n, err = c, e
		}
	}
	return n, err
}

// update takes the beat that is ahead beats after the last one, and its time error.
func (l *loop) update(ahead int64, err float64) {
	n := float64(ahead)
	l.due = l.due + n*l.interval + dueGain*err
	l.interval += intervalGain * err / n
	l.k += ahead
	l.scatter = (1-scatterGain)*l.scatter + scatterGain*deviation*min(math.Abs(err), 3*l.scatter)
	if l.k&1 == 0 {
		l.offset += offsetGain * err
	} else {
		l.offset -= offsetGain * err
	}
	l.heard = l.heard<<uint(ahead) | 1
	if l.k%lookEvery == 0 {
		l.inverse = 1 / l.interval
		l.window = windowFor(l.interval, l.offset, l.scatter)
	}
}

// windowFor returns the acceptance window, in ticks.
func windowFor(interval, offset, scatter float64) float64 {
	room := 0.4 * (interval - 2*math.Abs(offset))
	return min(max(6*scatter+2, 0.004*interval), max(room, 0.1*interval))
}

// lose ends the segment: the clock stopped, was started again or jumped, and what
// number the next beat has can't be known. What came since the last beat may be
// the first of the next segment.
func (t *tracker) lose() {
	t.locked = false
	if t.fresh {
		t.Segments-- // not one beat of it was numbered
	}
	if !t.replaying {
		t.tryLock(false)
	}
}

// cut ends the segment because the ticks don't go on from the last event.
func (t *tracker) cut() {
	t.settle()
	t.locked = false
	t.unplaced = t.unplaced[:0]
}

// settle numbers or gives up what still waits, when no more events will follow on.
func (t *tracker) settle() {
	if t.next.waits {
		t.commit()
	}
	if !t.locked {
		t.tryLock(true)
		if t.next.waits {
			t.commit()
		}
	}
	if t.locked && !t.fresh {
		t.place(mostOff, 0)
	}
	t.Spurious += int64(len(t.unplaced))
	t.unplaced = t.unplaced[:0]
}

// Expect returns when the tracking loop comes to expect the beats of a turn whose time
// errors repeat with every turn; NaN stands for a beat that isn't heard. It learns a
// part of every error, and the errors of outliers are against its expectation.
func Expect(errors []float64) []float64 {
	out := make([]float64, len(errors))
	due, step := 0.0, 0.0
	for range 4 { // turns, until it repeats
		for i, e := range errors {
			due += step
			out[i] = due
			if math.IsNaN(e) {
				continue
			}
			e -= due
			step += intervalGain * e
			due += phaseGain * e
		}
	}
	return out
}
