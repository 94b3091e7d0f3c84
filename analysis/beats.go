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
// are in memory at once: some 60 bytes an event.
func Beats(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], o RateOptions) ([]BeatRow, error) {
	opt, err := BeatOptions(clock, ses, o)
	if err != nil {
		return nil, err
	}
	type numbered struct {
		index, at int64
		off       bool
	}
	var events []int64
	var laid []numbered
	opt.Stamped = true
	opt.Event = func(ticks int64) { events = append(events, ticks) }
	opt.Beat = func(number, ticks int64, off bool) { laid = append(laid, numbered{number, ticks, off}) }
	a, err := beat.NewAnalyser(opt)
	if err != nil {
		return nil, err
	}
	a.AddReferences(o.References)
	for chunk, err := range beats {
		if err != nil {
			return nil, err
		}
		a.Add(chunk)
	}
	a.Close()
	tick := 1e-9 // seconds
	if opt.CountRate > 0 {
		tick = 1 / opt.CountRate
	}
	toTrue := 1.0
	f, err := a.Result()
	if err == nil {
		toTrue = 1 / (1 + f.TimeBase.OffsetPPM.V*1e-6)
	}
	rows := make([]BeatRow, len(events))
	for i, t := range events {
		rows[i] = BeatRow{TimeS: float64(t-events[0]) * tick * toTrue, Spurious: true}
		if len(laid) > 0 && laid[0].at == t {
			rows[i].Index, rows[i].Spurious = laid[0].index, laid[0].off && f.Late+f.Early == 0
			laid = laid[1:]
		}
	}
	return rows, nil
}
