package analysis

import (
	"errors"
	"io"
	"iter"

	"evenbeat/analysis/beat/textfile"
	"evenbeat/analysis/stability"
	"evenbeat/sessions"
)

// Stability returns the Allan family of a timing session's beats at the averaging
// times chosen, in beats, in one pass and in memory that doesn't grow with the run:
// see stability.Family for what is summed and thinned. Beats come as for Rate.
//
// Phases are on the corrected time base; tau is in true seconds. A beat missed is a
// gap, what was spurious is left out, and no term reaches over a place where the
// count of the beats was lost (rate's own short table joins the stretches there, with
// a gap between, and so has a few terms more).
//
// An uneven beat would show at every odd averaging factor: tick and tock alternate.
// As for rate, the offset between the two that the first beats show is taken out of
// all phases, and what the whole run says besides out of the terms. So a beat error
// leaves the table alone; what it changes over the run stays in.
//
// The error is that of Rate, or a *quantity.InputError for all averaging times, which
// have no bound.
func Stability(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], taus stability.Taus, o RateOptions) (stability.Result, error) {
	opt, err := BeatOptions(clock, ses, o)
	if err != nil {
		return stability.Result{}, err
	}
	opt.Stamped = true
	s, err := newSteady(opt, taus)
	if err != nil {
		return stability.Result{}, err
	}
	s.a.AddReferences(o.References)
	return s.table(func() error {
		for chunk, err := range beats {
			if err != nil {
				return err
			}
			s.add(chunk)
		}
		return nil
	})
}

// StabilityFile is Stability for a beat file, read as RateFile reads it.
func StabilityFile(r io.Reader, taus stability.Taus, o RateOptions) (stability.Result, error) {
	if o.CountRate == 0 {
		o.CountRate = usualCountRate
	}
	opt, err := BeatOptions(sessions.Clock{}, sessions.Session{}, o)
	if err != nil {
		return stability.Result{}, err
	}
	s, err := newSteady(opt, taus)
	if err != nil {
		return stability.Result{}, err
	}
	in := textfile.NewReader(r)
	counts, edges := make([]uint64, 2048), make([]int16, 2048)
	return s.table(func() error {
		for {
			n, err := in.Next(counts, edges)
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err != nil {
				return err
			}
			s.addCounts(counts[:n], edges[:n])
		}
	})
}
