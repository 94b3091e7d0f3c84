package analysis

import (
	"iter"
	"slices"

	"evenbeat/analysis/beat"
	"evenbeat/sessions"
)

// BeatRow is one event of a timing session.
type BeatRow struct {
	Index    int64   // number of the beat since the session's first; of no meaning for a spurious event
	TimeS    float64 // seconds since the session's first event, on the corrected time base
	Spurious bool
}

// Beats walks through every event of a timing session in order, as the beat it is or as
// spurious, on the corrected time base: the device's count with its offset against
// the host, or against the time reference where that knows better, taken out. It goes
// through the beats twice, since that offset is known only at their end. An error ends it.
func Beats(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], o RateOptions) iter.Seq2[BeatRow, error] {
	return func(yield func(BeatRow, error) bool) {
		opt, err := BeatOptions(clock, ses, o)
		opt.Stamped = true
		l := laying{yield: yield, tick: 1e-9, toTrue: 1}
		if err == nil {
			err = l.all(opt, beats, o.References)
		}
		if err != nil && !l.enough {
			yield(BeatRow{}, err)
		}
	}
}

// all lays out the beats, which it goes through twice.
func (l *laying) all(opt beat.Options, beats iter.Seq2[[]sessions.Beat, error], references []sessions.Reference) error {
	a, err := analysed(opt, beats, references)
	if err != nil {
		return err
	}
	if opt.CountRate > 0 {
		l.tick = 1 / opt.CountRate
	}
	if f, err := a.Result(); err == nil {
		l.toTrue = 1 / (1 + f.TimeBase.OffsetPPM.V*1e-6)
		l.offKept = f.Late+f.Early > 0
	}
	opt.Event, opt.Beat = l.event, l.beat
	_, err = analysed(opt, func(yield func([]sessions.Beat, error) bool) {
		for chunk, err := range beats {
			if l.enough || !yield(chunk, err) {
				return
			}
		}
	}, references)
	for _, t := range l.open {
		l.put(t, BeatRow{Spurious: true})
	}
	return err
}

// analysed has an analyser hear all beats.
func analysed(opt beat.Options, beats iter.Seq2[[]sessions.Beat, error], references []sessions.Reference) (*beat.Analyser, error) {
	a, err := beat.NewAnalyser(opt)
	if err != nil {
		return nil, err
	}
	a.AddReferences(references)
	for chunk, err := range beats {
		if err != nil {
			return nil, err
		}
		a.Add(chunk)
	}
	a.Close()
	return a, nil
}

// laying hands on events once it is known which beats they are.
type laying struct {
	yield   func(BeatRow, error) bool
	enough  bool    // yield wants no more
	tick    float64 // seconds
	toTrue  float64 // to the corrected time base
	offKept bool    // beats off their place count as beats
	begun   bool
	first   int64   // event, ticks
	open    []int64 // events that may still become beats, ticks
}

func (l *laying) event(ticks int64) {
	if !l.begun {
		l.begun, l.first = true, ticks
	}
	l.open = append(l.open, ticks)
}

func (l *laying) beat(number, ticks int64, off bool) {
	at := slices.Index(l.open, ticks)
	for _, t := range l.open[:max(at, 0)] {
		l.put(t, BeatRow{Spurious: true})
	}
	if at >= 0 {
		l.put(ticks, BeatRow{Index: number, Spurious: off && !l.offKept})
	}
	l.open = l.open[at+1:]
}

func (l *laying) put(ticks int64, row BeatRow) {
	row.TimeS = float64(ticks-l.first) * l.tick * l.toTrue
	l.enough = l.enough || !l.yield(row, nil)
}
