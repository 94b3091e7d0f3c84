package timebase

import "evenbeat/devices/quantity"

// sentenceCreep: a receiver sends the later after its second the more it has to
// reckon, and no line under the sentences shows that (common practice, no source).
func sentenceCreep() creep { return creep{share: 1.0 / 3, leastS: 5e-3} }

// pulseCreep: a pulse comes on its second, and its stamp late by what it takes to be
// woken, or until the lines are looked at. That is up to a millisecond where they are
// looked at a thousand times a second (devices/port), and where they are behind an
// adaptor that is asked once a frame of USB 2.0 (1 ms at full speed, from memory). It
// creeps from end to end of it, and doesn't scatter, where the host's clock and the
// looks keep nearly the same second. A host that is busy wakes later, and scatters
// more: the least late are then taken to creep by no more than the scatter (common
// practice, no source).
func pulseCreep() creep { return creep{share: 1, leastS: 1e-3} }

// Reference holds the host's monotonic time against what a time reference tells, by
// sentences and by pulses, each apart. Either can only come late, so the host's rate
// is by the lower envelope of arrival less time told, as Fit finds it. The zero value
// is ready.
type Reference struct{ sentences, pulses series }

// Add takes what the reference told: the host's stamps of its arrival, monotonic and
// UTC, and the time, all in nanoseconds; and whether the stamps are a pulse's. A time
// that was told already is passed over. Where the host slept, or the reference was
// set, a new segment begins.
func (r *Reference) Add(mono, utc, nanos int64, byPulse bool) {
	s := &r.sentences
	if byPulse {
		s = &r.pulses
	}
	s.add(mono, utc, nanos)
}

// Clone returns a copy that can be added to apart.
func (r *Reference) Clone() *Reference {
	return &Reference{*r.sentences.clone(), *r.pulses.clone()}
}

// Host returns by how many parts in a million the host's monotonic clock runs fast
// by the reference, over a run of durationS seconds; ok is false when too little
// was told. It is by the pulses, unless there are too few of them to fit, or so few
// that the sentences know it better. The uncertainty is host's of series. The
// reference itself is taken for true.
func (r *Reference) Host(durationS float64) (ppm quantity.Value, byPulse, ok bool) {
	ppm, byPulse = r.pulses.host(durationS, pulseCreep())
	if sent, ok := r.sentences.host(durationS, sentenceCreep()); ok && !(byPulse && ppm.Half95() <= sent.Half95()) {
		return sent, false, true
	}
	return ppm, byPulse, byPulse
}

// Improve returns the time base b of a run of durationS seconds by the reference,
// if the reference knows the host's rate better than the host itself does; else b,
// with what was told besides. f is the fit b was made from, nil if events carry no
// count and b is the host's own.
func (r *Reference) Improve(b Base, f *Fit, durationS float64) Base {
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
	b.OffsetPPM = Both(off, host)
	b.OffsetPPM.V = off.V + host.V + off.V*host.V*1e-6
	return b
}
