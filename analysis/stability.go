package analysis

import (
	"fmt"
	"io"
	"iter"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/beat/phase"
	"evenbeat/analysis/stability"
	"evenbeat/sessions"
)

// Stability returns the Allan family of a timing session's beats at the averaging
// times chosen, in beats, in one pass and in bounded memory: see stability.Family for
// what is summed and thinned. Beats come as for Rate.
//
// Phases are on the corrected time base; tau is in true seconds. A missed beat is a
// gap, spurious ones are left out, and no term reaches over a place where the count of
// the beats was lost. (The short table of Rate joins the stretches there, with a gap
// between, and so has a few terms more.)
//
// An uneven beat would show at every odd averaging factor, because tick and tock
// alternate. As for Rate, the tick–tock offset of the first beats is subtracted from all
// phases, and what the whole run shows beyond that from the terms. A constant beat error
// therefore leaves the table unchanged, and a change of it over the run stays in.
//
// The error is that of Rate, or a *quantity.InputError for all averaging times, which
// have no bound.
func Stability(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], o RateOptions, taus stability.Taus) (stability.Result, error) {
	return ofStretches(taus, o, func(o RateOptions) (beat.Result, error) { return Rate(clock, ses, beats, o) })
}

// StabilityFile is Stability for a beat file, read as RateFile reads it.
func StabilityFile(r io.Reader, o RateOptions, taus stability.Taus) (stability.Result, error) {
	return ofStretches(taus, o, func(o RateOptions) (beat.Result, error) { return RateFile(r, o) })
}

// ofStretches makes the table of the stretches of beats that rate passes on.
func ofStretches(taus stability.Taus, o RateOptions, rate func(RateOptions) (beat.Result, error)) (stability.Result, error) {
	family, err := stability.NewFamily(taus)
	if err != nil {
		return stability.Result{}, err
	}
	offset := 0.0
	o.series = func(s phase.Series, even phase.EvenClock) {
		offset = even.OffsetS
		if s.Fresh {
			family.Segment(s.First)
		}
		family.Add(s.Errors)
	}
	f, err := rate(o)
	if err != nil {
		return stability.Result{}, err
	}
	truth := 1 / (1 + f.TimeBase.OffsetPPM.V*1e-6) // true seconds in one of the count
	even := f.TickTock.V / (-4 * truth)            // lateness of even beats, by the count
	r, err := family.Result(f.IntervalS, truth, even-offset)
	if err != nil {
		return r, err
	}
	if f.TickTock.U > 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("tick less tock, %s, is taken out of all figures; it would show at odd multiples of the beat", f.TickTock.Scale(1e3).Signed("ms")))
	}
	if f.Segments > 1 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d unbroken stretches: no term reaches from one into the next", f.Segments))
	}
	return r, nil
}
