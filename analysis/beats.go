package analysis

import (
	"iter"

	"evenbeat/analysis/beat"
	"evenbeat/sessions"
)

// BeatRow is one event of a timing session.
type BeatRow struct {
	Index    int64   // number of the beat since the session's first; of no meaning for a spurious event
	TimeS    float64 // seconds since the session's first event, on the corrected time base
	Spurious bool
}

// Beats returns every event of a timing session in order, as the beat it is or as
// spurious, on the corrected time base: the device's count with its offset against
// the host, or against the time reference where that knows better, taken out. All
// are in memory at once: some 16 bytes an event.
func Beats(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], told []sessions.Reference) ([]BeatRow, error) {
	opt, err := BeatOptions(clock, ses, RateOptions{})
	if err != nil {
		return nil, err
	}
	var events []float64
	var laid []BeatRow
	opt.Stamped = true
	opt.Event = func(t float64) { events = append(events, t) }
	opt.Laid = func(number int64, t float64) { laid = append(laid, BeatRow{Index: number, TimeS: t}) }
	a, err := beat.NewAnalyser(opt)
	if err != nil {
		return nil, err
	}
	a.AddReferences(told)
	for chunk, err := range beats {
		if err != nil {
			return nil, err
		}
		a.Add(chunk)
	}
	a.Close()
	toTrue := 1.0
	if f, err := a.Result(); err == nil {
		toTrue = 1 / (1 + f.TimeBase.OffsetPPM.V*1e-6)
	}
	// An event is a beat where one was laid at its time, to less than a count.
	near := 0.5e-9
	if opt.CountRate > 0 {
		near = 0.5 / opt.CountRate
	}
	rows := make([]BeatRow, len(events))
	next := 0
	for i, t := range events {
		rows[i] = BeatRow{TimeS: t * toTrue, Spurious: true}
		for next < len(laid) && laid[next].TimeS < t-near {
			next++
		}
		if next < len(laid) && laid[next].TimeS <= t+near {
			rows[i].Index, rows[i].Spurious = laid[next].Index, false
			next++
		}
	}
	return rows, nil
}
