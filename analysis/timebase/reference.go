package timebase

import (
	"math"

	"evenbeat/devices/quantity"
)

const (
	// floorShare of what sentences scatter from one to the next, and no less than
	// leastFloorS, is how far the quickest of them may shift over the run: a receiver
	// sends the later after its second the more it has to reckon, and no line under
	// the sentences shows it (common practice, no source).
	floorShare  = 1.0 / 3
	leastFloorS = 5e-3
	// wanderPPM is by how much the rate of a host's crystal in a room may differ
	// between two parts of a run (common practice, no source).
	wanderPPM = 5.0
	// aheadRate bounds how far host and reference part with time.
	aheadRate = 2e-4
	// toldBlock sentences are held to see whether they are all later than those before.
	toldBlock = 16
)

// Reference holds the host's monotonic time against what a time reference tells.
// A sentence can only come late, so the host's rate is by the lower envelope of
// arrival less time told, as Fit finds it. The zero value is ready.
type Reference struct {
	fit   Fit
	held  [toldBlock]told
	n     int
	begun bool
	cut   bool // the next block begins a new segment
	last  told
	first int64   // reference time of the first sentence, nanoseconds
	low   float64 // least lateness in the block
	floor told    // the least late of the block before; of no meaning after a cut
	known bool    // floor is
	// The mean distance in lateness of neighbours, which a host's own rate hardly
	// touches, is the scatter of the sentences.
	apart, pairs float64
	toldS        float64 // for how long it was told, seconds
}

// told is one time of a reference.
type told struct {
	mono, utc, nanos int64
	late             float64 // seconds, from an arbitrary zero
}

// Add takes what the reference told: the host's stamps of its arrival, monotonic
// and UTC, and the time, all in nanoseconds. A time that was told already is passed
// over. Where the host slept, or the reference was set, a new segment begins.
func (r *Reference) Add(mono, utc, nanos int64) {
	if !r.begun {
		r.begun, r.first = true, nanos
	} else if nanos == r.last.nanos {
		return
	}
	t := told{mono, utc, nanos, float64(mono-(nanos-r.first)) * 1e-9}
	since := float64(nanos-r.last.nanos) * 1e-9
	switch {
	case r.n == 0 && !r.known: // nothing to compare it with
	case since < 0 || t.late < r.least()-earlyS-aheadRate*since:
		r.flush()
		r.cut, r.known = true, false
	case since < toldBlock:
		r.toldS += since
		r.apart += min(math.Abs(t.late-r.last.late), earlyS)
		r.pairs++
	}
	if r.n == 0 || t.late < r.low {
		r.low = t.late
	}
	r.held[r.n], r.last = t, t
	if r.n++; r.n == toldBlock {
		r.flush()
	}
}

// least returns the least lateness of late.
func (r *Reference) least() float64 {
	switch {
	case r.n == 0:
		return r.floor.late
	case !r.known:
		return r.low
	}
	return min(r.low, r.floor.late)
}

// flush gives the block to the fit. If all of it is late by more than sentences
// are, time told has stood still before it, as at a leap second.
func (r *Reference) flush() {
	if r.n == 0 {
		return
	}
	span := float64(r.last.nanos-r.floor.nanos) * 1e-9
	if r.known && r.low > r.floor.late+earlyS+aheadRate*span {
		r.cut = true
	}
	for _, t := range r.held[:r.n] {
		r.fit.Add(float64(t.nanos-r.first)*1e-9, t.mono, t.utc, r.cut)
		r.cut = false
		if t.late == r.low {
			r.floor = t
		}
	}
	r.known, r.n = true, 0
}

// Clone returns a copy that can be added to apart.
func (r *Reference) Clone() *Reference {
	c := *r
	c.fit = *r.fit.Clone()
	return &c
}

// Host returns by how many parts in a million the host's monotonic clock runs fast
// by the reference, over a run of durationS seconds; ok is false when too little
// was told. The uncertainty holds the fit's; that the quickest sentences may shift
// by a third of their scatter from the beginning to the end (a limit, over √3, by
// the span that was told); and that the host's rate may have been another, by up to
// 5 ppm, where nothing was told. The reference itself is taken for true.
func (r *Reference) Host(durationS float64) (ppm quantity.Value, ok bool) {
	c := r.Clone()
	c.flush()
	told, ok := c.fit.Offset()
	if !ok {
		return quantity.Value{}, false
	}
	c.fit.close()
	span := c.fit.spanS
	shift := leastFloorS
	if c.pairs > 0 {
		shift = max(shift, floorShare*c.apart/c.pairs)
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

// Improve returns the time base b of a run of durationS seconds by the reference,
// if the reference knows the host's rate better than the host itself does; else b,
// with what was told besides. f is the fit b was made from, nil if events carry no
// count and b is the host's own.
func (r *Reference) Improve(b Base, f *Fit, durationS float64) Base {
	host, ok := r.Host(durationS)
	if !ok {
		return b
	}
	b.HostPPM = host
	if b.Source != SourceHost || !(host.Half95() < b.Host.RatePPM(durationS).Half95()) {
		return b
	}
	off := quantity.Value{}
	if f != nil {
		if off, ok = f.Offset(); !ok {
			return b
		}
	}
	b.Source = SourceReference
	b.OffsetPPM = Both(off, host)
	b.OffsetPPM.V = off.V + host.V + off.V*host.V*1e-6
	return b
}
