package timebase

import "evenbeat/devices/quantity"

// sentenceShift: the more a receiver has to compute, the later after its second it
// sends, and no lower envelope of the sentences shows that (common practice, no
// source).
func sentenceShift() delayShift { return delayShift{share: 1.0 / 3, leastS: 5e-3} }

// pulseShift: a pulse comes on its second. Its stamp is late by the time it takes to
// wake the program, or to poll the lines: up to a millisecond where they are polled a
// thousand times a second (devices/port), or are behind an adaptor that is polled once
// a frame of USB 2.0 (1 ms at full speed, from memory). Where the host's clock and the
// polling keep nearly the same second, that delay shifts from end to end of its range
// without scatter. A busy host wakes later and scatters more; the least delay is then
// taken to shift by no more than the scatter (common practice, no source).
func pulseShift() delayShift { return delayShift{share: 1, leastS: 1e-3} }

// Reference compares the host's monotonic time with a time reference, by sentences and
// by pulses separately. Either can only come late, so that the host's rate is the slope
// of the lower envelope of arrival less reference time: see Line. The zero value is
// ready.
type Reference struct{ sentences, pulses referenceSeries }

// Add takes the host's stamps of an arrival, monotonic and UTC, and the time that the
// reference sent, all in nanoseconds. byPulse says that the stamps are a pulse's. A
// repeated time is ignored. Where the host slept, or the reference was set, a new
// segment begins.
func (r *Reference) Add(mono, utc, nanos int64, byPulse bool) {
	s := &r.sentences
	if byPulse {
		s = &r.pulses
	}
	s.add(mono, utc, nanos)
}

// Clone returns an independent copy.
func (r *Reference) Clone() *Reference {
	return &Reference{*r.sentences.clone(), *r.pulses.clone()}
}

// Host returns by how many parts in a million the host's monotonic clock runs fast by
// the reference, over a run of durationS seconds. ok is false when too few times came.
// Pulses count, unless they are so few that sentences give the smaller uncertainty or
// the only figure. The reference itself is taken as true.
func (r *Reference) Host(durationS float64) (ppm quantity.Value, byPulse, ok bool) {
	ppm, byPulse = r.pulses.host(durationS, pulseShift())
	if sent, ok := r.sentences.host(durationS, sentenceShift()); ok && !(byPulse && ppm.Half95() <= sent.Half95()) {
		return sent, false, true
	}
	return ppm, byPulse, byPulse
}

// Improve returns the time base b of a run of durationS seconds by the reference,
// if that gives the host's rate with less uncertainty than the host itself. Otherwise it
// returns b, with the host's offset noted. f is the line that b was made from; it is nil
// if events carry no count and b is the host's own.
func (r *Reference) Improve(b Base, f *Line, durationS float64) Base {
	host, byPulse, ok := r.Host(durationS)
	if !ok {
		return b
	}
	b.HostPPM, b.ByPulse = host, byPulse
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
	b.OffsetPPM = by(off, host)
	return b
}
