package timebase

import (
	"math"

	"evenbeat/devices/quantity"
)

const (
	// wanderPPM is by how much the rate of a host's crystal in a room may differ
	// between two parts of a run (common practice, no source).
	wanderPPM = 5.0
	// aheadRate bounds how far host and reference part with time.
	aheadRate = 2e-4
	// toldBlock times are held to see whether they are all later than those before.
	toldBlock = 16
)

// series is what a time reference told, the one way or the other, held against the
// host's monotonic time. The zero value is ready.
type series struct {
	fit   Fit
	held  [toldBlock]told
	n     int
	begun bool
	cut   bool // the next block begins a new segment
	last  told
	first int64   // reference time of the first, nanoseconds
	low   float64 // least lateness in the block
	floor told    // the least late of the block before; of no meaning after a cut
	known bool    // floor is
	// The mean distance in lateness of neighbours, which a host's own rate hardly
	// touches, is their scatter.
	apart, pairs float64
	toldS        float64 // for how long it was told, seconds
}

// told is one time of a reference.
type told struct {
	mono, utc, nanos int64
	late             float64 // seconds, from an arbitrary zero
}

// add takes what the reference told: the host's stamps of its arrival, monotonic
// and UTC, and the time, all in nanoseconds. A time that was told already is passed
// over. Where the host slept, or the reference was set, a new segment begins.
func (s *series) add(mono, utc, nanos int64) {
	if !s.begun {
		s.begun, s.first = true, nanos
	} else if nanos == s.last.nanos {
		return
	}
	t := told{mono, utc, nanos, float64(mono-(nanos-s.first)) * 1e-9}
	since := float64(nanos-s.last.nanos) * 1e-9
	switch {
	case s.n == 0 && !s.known: // nothing to compare it with
	case since < 0 || t.late < s.least()-earlyS-aheadRate*since:
		s.flush()
		s.cut, s.known = true, false
	case since < toldBlock:
		s.toldS += since
		s.apart += min(math.Abs(t.late-s.last.late), earlyS)
		s.pairs++
	}
	if s.n == 0 || t.late < s.low {
		s.low = t.late
	}
	s.held[s.n], s.last = t, t
	if s.n++; s.n == toldBlock {
		s.flush()
	}
}

// least returns the least lateness of late.
func (s *series) least() float64 {
	switch {
	case s.n == 0:
		return s.floor.late
	case !s.known:
		return s.low
	}
	return min(s.low, s.floor.late)
}

// flush gives the block to the fit. If all of it is late by more than sentences
// or pulses are, time told has stood still before it, as at a leap second.
func (s *series) flush() {
	if s.n == 0 {
		return
	}
	span := float64(s.last.nanos-s.floor.nanos) * 1e-9
	if s.known && s.low > s.floor.late+earlyS+aheadRate*span {
		s.cut = true
	}
	for _, t := range s.held[:s.n] {
		s.fit.Add(float64(t.nanos-s.first)*1e-9, t.mono, t.utc, s.cut)
		s.cut = false
		if t.late == s.low {
			s.floor = t
		}
	}
	s.known, s.n = true, 0
}

// clone returns a copy that can be added to apart.
func (s *series) clone() *series {
	c := *s
	c.fit = *s.fit.Clone()
	return &c
}

// creep is by how much the least late of a series may shift over a run: a share of
// the scatter, and no less than leastS seconds.
type creep struct{ share, leastS float64 }

// host returns by how many parts in a million the host's monotonic clock runs fast by
// the series, over a run of durationS seconds; ok is false when too little was told.
// The uncertainty holds the fit's; that the least late may creep from the beginning
// to the end (a limit, over √3, by the span that was told); and that the host's rate
// may have been another, by up to 5 ppm, where nothing was told.
func (s *series) host(durationS float64, by creep) (ppm quantity.Value, ok bool) {
	c := s.clone()
	c.flush()
	told, ok := c.fit.Offset()
	if !ok {
		return quantity.Value{}, false
	}
	c.fit.close()
	span := c.fit.spanS
	shift := by.leastS
	if c.pairs > 0 {
		shift = max(shift, by.share*c.apart/c.pairs)
	}
	// Each segment may shift by itself: of n equal ones, the mean slope by √n of
	// what it would in one.
	limit := shift / span * 1e6 * math.Sqrt(float64(c.fit.segments))
	untold := wanderPPM * max(0, 1-c.toldS/max(durationS, c.toldS))
	told.V = (1/(1+told.V*1e-6) - 1) * 1e6
	return Both(Both(told, rectangle(limit)), rectangle(untold)), true
}

// rectangle is a limit of error in ppm as a value of zero; 95 % of it lie within
// K = 0.95√3 standard uncertainties.
func rectangle(limit float64) quantity.Value {
	return quantity.Value{U: limit / math.Sqrt(3), K: 0.95 * math.Sqrt(3)}
}
