package timebase

import (
	"math"
	"slices"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// SensorClock finds where a sensor that tells the time of each beat had its own clock
// set. Set Rate, pass all beats through Take in order, and call Close behind the last.
//
// A message can come late, and all of them can come later from some moment on: then the
// sensor's times go on evenly and the host's stamps don't. Where the clock was set, the stamps go
// on evenly and the sensor's times don't, and those after keep their distance.
type SensorClock struct {
	Rate float64 // counts a second, nominal; above 0

	begun    bool
	last     sessions.Beat    // the last that was handed on
	gaps     [usualGaps]space // those before it; the oldest is overwritten
	known    int              // how many there were
	lateness lateness         // of the gaps
	held     []sessions.Beat  // that wait for those behind them
	found    SensorSteps
}

// SensorSteps says how often a sensor's clock was set in a run.
type SensorSteps struct {
	Times int64
	// First is by how many seconds it was first set, plus = forward, and AtS when, in
	// seconds of the host's time since the run's first beat.
	First quantity.Value
	AtS   float64

	start int64 // host's time of the first beat
}

const (
	// A gap between beats is held against the usualGaps before it. The first beats wait
	// until there are as many.
	usualGaps = 16
	// leastGaps tell what is usual, in a run that ended before there were usualGaps.
	leastGaps = 8
	// leastSetS is the least step that is looked for, seconds.
	leastSetS = 1e-3
	// A step is one if the distance stays over the staying beats behind it, or all but one.
	staying = 4
	// Messages that come later from some moment on do so by no more than changeS, seconds.
	changeS = 0.05
	// Gaps that two late messages make aren't usual. A step must be clearOf times the
	// greatest change of the delay over the others.
	oddGaps, clearOf = 2, 2
)

// space is what lies between two beats, seconds.
type space struct{ count, host float64 }

// late is by how much more the second message came late than the first.
func (g space) late() float64 { return g.host - g.count }

// lateness is how the delay changes from message to message.
type lateness struct{ usual, most float64 }

// space returns what lies between two beats. Where the host's clock was set, or its
// monotonic time stood still, the one that wasn't touched counts.
func (s *SensorClock) space(a, b *sessions.Beat) space {
	g := space{float64(int64(b.Count-a.Count)) / s.Rate, float64(b.HostMono-a.HostMono) * 1e-9}
	if utc := float64(b.HostUTC-a.HostUTC) * 1e-9; math.Abs(utc-g.count) < math.Abs(g.host-g.count) {
		g.host = utc
	}
	return g
}

// Take hands the beats on in order, some of them later. The first after the clock was
// set begins anew: its Break is set.
func (s *SensorClock) Take(beats []sessions.Beat, on func([]sessions.Beat)) {
	for len(beats) > 0 {
		if len(s.held) == 0 && s.known >= usualGaps {
			if n := s.plain(beats); n > 0 {
				on(beats[:n])
				beats = beats[n:]
				continue
			}
		}
		s.held, beats = append(s.held, beats[0]), beats[1:]
		s.release(false, on)
	}
}

// Close hands on the beats that still wait.
func (s *SensorClock) Close(on func([]sessions.Beat)) { s.release(true, on) }

// Clone returns an independent copy.
func (s *SensorClock) Clone() *SensorClock {
	c := *s
	c.held = slices.Clone(s.held)
	return &c
}

// Found returns the steps so far.
func (s *SensorClock) Found() SensorSteps { return s.found }

// plain passes beats over which the delay changes no more than usual, and returns how
// many.
func (s *SensorClock) plain(beats []sessions.Beat) int {
	for i := range beats {
		b := &beats[i]
		if g := s.space(&s.last, b); b.Break || !s.lateness.holds(g) {
			return i
		} else {
			s.add(g)
		}
		s.last = *b
	}
	return len(beats)
}

func (s *SensorClock) add(g space) {
	s.gaps[s.known%usualGaps] = g
	if s.known++; s.known%usualGaps == 0 {
		s.lateness = latenessOf(s.gaps[:])
	}
}

// release hands on the beats in front that are judged. last says that no more will come.
func (s *SensorClock) release(last bool, on func([]sessions.Beat)) {
	for len(s.held) > 0 && (last || min(s.known, usualGaps)+len(s.held) > usualGaps) {
		b := &s.held[0]
		switch joined := s.begun && !b.Break; {
		case !s.begun:
			s.begun, s.found.start = true, b.HostMono
		case joined:
			g := s.space(&s.last, b)
			by, sure := s.setBy(g, last)
			if !sure {
				return
			}
			if by.V == 0 {
				s.add(g)
				break
			}
			if b.Break = true; s.found.Times == 0 {
				s.found.First, s.found.AtS = by, float64(b.HostMono-s.found.start)*1e-9
			}
			s.found.Times++
		}
		s.last = *b
		on(s.held[:1])
		s.held = slices.Delete(s.held, 0, 1)
	}
}

// setBy returns by how much the clock was set before the first beat that waits, g after
// the one before it; 0 if it wasn't. It isn't sure while beats behind it are wanted.
func (s *SensorClock) setBy(g space, last bool) (by quantity.Value, sure bool) {
	before := s.before()
	var behind []space
	for i := range s.held[1:] {
		if s.held[i+1].Break {
			last = true
			break
		}
		behind = append(behind, s.space(&s.held[i], &s.held[i+1]))
	}
	usual := slices.Concat(before, behind)
	if len(usual) < leastGaps {
		return by, true
	}
	late := latenessOf(usual)
	jump := g.late() - late.usual
	if late.holds(g) || !isSet([]space{g}, jump, usual) {
		return by, true
	}
	if len(behind) < staying && !last {
		return by, false
	}
	slices.Reverse(before)
	if len(behind) == 0 || !late.stays(behind, jump) || !late.stays(before, jump) || !isSetOver(g, behind, jump, usual) || !isSetOver(g, before, jump, usual) {
		return by, true
	}
	by = rectangle(late.most / clearOf)
	by.V = -jump
	return by, true
}

// before returns the gaps before the last beat, oldest first.
func (s *SensorClock) before() []space {
	if s.known < usualGaps {
		return slices.Clone(s.gaps[:s.known])
	}
	oldest := s.known % usualGaps
	return slices.Concat(s.gaps[oldest:], s.gaps[:oldest])
}

// isSet reports whether the sensor's time over some gaps is off from all that are usual,
// by about the jump or by more than messages ever change their delay, and far more than
// those are from each other, and the host's time is not. A beat may have been missed
// among them.
func isSet(gaps []space, jump float64, usual []space) bool {
	count, host := func(a space) float64 { return a.count }, func(a space) float64 { return a.host }
	off := max(clearOf*min(offFrom(gaps, usual, host, 0), offFrom(gaps, usual, host, 1)), min(math.Abs(jump)/2, changeS))
	for missed := range 2 {
		if d := offFrom(gaps, usual, count, missed); d > off && d < 2*math.Abs(jump) {
			return d > 3*scatter(usual)
		}
	}
	return false
}

// isSetOver reports the same of a gap and those next to it together, over more than half of
// a few: where one of two events was no beat, the next is in step.
func isSetOver(g space, next []space, jump float64, usual []space) bool {
	gaps, set := []space{g}, 0
	next = next[:min(len(next), staying-1)]
	for _, n := range next {
		if gaps = append(gaps, n); isSet(gaps, jump, usual) {
			set++
		}
	}
	return 2*set > len(next) || len(next) == 0
}

// offFrom returns how far the sum of some gaps is from the nearest sum of as many that are
// usual, and some more.
func offFrom(gaps, usual []space, time func(space) float64, more int) float64 {
	sum, least := 0.0, math.Inf(1)
	for _, g := range gaps {
		sum += time(g)
	}
	for i := range len(usual) - len(gaps) - more + 1 {
		other := 0.0
		for _, u := range usual[i : i+len(gaps)+more] {
			other += time(u)
		}
		least = min(least, math.Abs(sum-other))
	}
	return least
}

// scatter returns how far the sensor's times between beats are from each other.
func scatter(usual []space) float64 {
	odd := make([]float64, len(usual))
	count := func(a space) float64 { return a.count }
	for i, u := range usual {
		others := slices.Concat(usual[:i], usual[i+1:])
		odd[i] = min(offFrom([]space{u}, others, count, 0), offFrom([]space{u}, others, count, 1))
	}
	return greatest(odd)
}

// greatest returns the greatest of v without the oddGaps that are greater still. It sorts v.
func greatest(v []float64) float64 {
	slices.Sort(v)
	return v[len(v)-1-oddGaps]
}

func latenessOf(gaps []space) (l lateness) {
	late := make([]float64, len(gaps))
	for i, g := range gaps {
		late[i] = g.late()
	}
	slices.Sort(late)
	within := late[oddGaps : len(late)-oddGaps]
	for _, v := range within {
		l.usual += v / float64(len(within))
	}
	for i := range late {
		late[i] = math.Abs(late[i] - l.usual)
	}
	l.most = max(leastSetS, clearOf*greatest(late))
	return l
}

func (l lateness) holds(g space) bool { return math.Abs(g.late()-l.usual) <= l.most }

// stays reports whether, over the first gaps, the delay keeps its distance from what it
// was across a jump: one beat that came late by itself does not.
func (l lateness) stays(gaps []space, jump float64) bool {
	gaps = gaps[:min(len(gaps), staying)]
	distance, gone := 0.0, 0
	for _, g := range gaps {
		if distance += g.late() - l.usual; distance/jump < -0.5 {
			gone++
		}
	}
	return gone <= len(gaps)/staying
}
