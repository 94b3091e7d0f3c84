package timebase

import (
	"math"

	"evenbeat/devices/quantity"
)

const (
	// leastSpanS is the shortest series that tells the host's rate.
	leastSpanS = 30
	// wanderPPM is by how much the rate of a host's crystal in a room may differ
	// between two parts of a run (common practice, no source).
	wanderPPM = 5.0
	// aheadRate bounds the frequency offset between host and reference.
	aheadRate = 2e-4
	// blockTimes times are held back, to see whether all are later than those before.
	blockTimes = 16
)

// referenceSeries compares what a time reference sends, sentences or pulses, with the
// host's monotonic time. The zero value is ready.
type referenceSeries struct {
	line  Line
	held  [blockTimes]timeMark
	n     int
	begun bool
	cut   bool // the next block begins a new segment
	last  timeMark
	first int64    // reference time of the first, nanoseconds
	low   float64  // least lateness in the block
	floor timeMark // the least late of the block before, if known
	known bool     // false after a cut
	// The scatter is the mean difference in lateness of neighbours, which the host's
	// own rate hardly touches.
	apart, pairs float64
	coveredS     float64 // seconds of the run for which times came
}

// timeMark is one time of a reference, with the host's stamps of its arrival.
type timeMark struct {
	mono, utc, nanos int64
	late             float64 // seconds, from an arbitrary zero
}

// add takes the host's stamps of an arrival, monotonic and UTC, and the time that the
// reference sent, all in nanoseconds. A repeated time is ignored. Where the host slept,
// or the reference was set, a new segment begins.
func (s *referenceSeries) add(mono, utc, nanos int64) {
	if !s.begun {
		s.begun, s.first, s.line.ownShift = true, nanos, true
	} else if nanos == s.last.nanos {
		return
	}
	t := timeMark{mono, utc, nanos, float64(mono-(nanos-s.first)) * 1e-9}
	since := float64(nanos-s.last.nanos) * 1e-9
	switch {
	case s.n == 0 && !s.known: // nothing to compare it with
	case since < 0 || t.late < s.least()-earlyS-aheadRate*since:
		s.flush()
		s.cut, s.known = true, false
	case since < blockTimes:
		s.coveredS += since
		s.apart += min(math.Abs(t.late-s.last.late), earlyS)
		s.pairs++
	}
	if s.n == 0 || t.late < s.low {
		s.low = t.late
	}
	s.held[s.n], s.last = t, t
	if s.n++; s.n == blockTimes {
		s.flush()
	}
}

// least returns the least lateness of late.
func (s *referenceSeries) least() float64 {
	switch {
	case s.n == 0:
		return s.floor.late
	case !s.known:
		return s.low
	}
	return min(s.low, s.floor.late)
}

// flush gives the block to the line. If all of it is later than sentences or pulses can
// be, the reference's time stood still before it, as at a leap second.
func (s *referenceSeries) flush() {
	if s.n == 0 {
		return
	}
	span := float64(s.last.nanos-s.floor.nanos) * 1e-9
	if s.known && s.low > s.floor.late+earlyS+aheadRate*span {
		s.cut = true
	}
	for _, t := range s.held[:s.n] {
		s.line.Add(float64(t.nanos-s.first)*1e-9, t.mono, t.utc, s.cut)
		s.cut = false
		if t.late == s.low {
			s.floor = t
		}
	}
	s.known, s.n = true, 0
}

// clone returns an independent copy.
func (s *referenceSeries) clone() *referenceSeries {
	c := *s
	c.line = *s.line.Clone()
	return &c
}

// delayShift is by how much the least delay of a series may change over a run: a share
// of the scatter, and no less than leastS seconds.
type delayShift struct{ share, leastS float64 }

// host returns by how many parts in a million the host's monotonic clock runs fast by
// the series, over a run of durationS seconds. ok is false when too few times came.
// The uncertainty has three parts: the line's own; the least delay may change from
// beginning to end (a limit, over √3, by the span covered); and the host's rate may
// have differed by up to 5 ppm where no times came.
func (s *referenceSeries) host(durationS float64, by delayShift) (ppm quantity.Value, ok bool) {
	c := s.clone()
	c.flush()
	ppm, ok = c.line.Offset()
	c.line.close()
	span := c.line.spanS
	if !ok || span < leastSpanS {
		return quantity.Value{}, false
	}
	shift := by.leastS
	if c.pairs > 0 {
		shift = max(shift, by.share*c.apart/c.pairs)
	}
	// Each segment may shift by itself. With n equal segments the mean slope shifts √n
	// times as far as with one.
	limit := shift / span * 1e6 * math.Sqrt(float64(c.line.segments))
	uncovered := wanderPPM * max(0, 1-c.coveredS/max(durationS, c.coveredS))
	ppm.V = (1/(1+ppm.V*1e-6) - 1) * 1e6
	return Both(Both(ppm, rectangle(limit)), rectangle(uncovered)), true
}

// rectangle is a limit of error in ppm as a value of zero; 95 % of it lie within
// K = 0.95√3 standard uncertainties.
func rectangle(limit float64) quantity.Value {
	return quantity.Value{U: limit / math.Sqrt(3), K: 0.95 * math.Sqrt(3)}
}
