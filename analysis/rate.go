package analysis

import (
	"io"
	"iter"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/beat/phase"
	"evenbeat/analysis/beat/textfile"
	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// RateOptions say what is known of the clock and the sensor besides the beats.
// What is zero comes from the clock and the session, where there are any.
type RateOptions struct {
	BeatsPerHour  float64
	Train         string // wheels over pinions; gives beats an hour and arbors
	BeatsPerTooth int    // 0 = train.UsualBeatsPerTooth
	HourArbor     int    // 0 = train.UsualHourArbor
	CountRate     float64
	CountBits     int
	// Flag and FlagDistance are those of a light gate's flag, metres; see
	// beat.Options.
	Flag, FlagDistance quantity.Value
	Gravity            quantity.Value  // where the clock stands, m/s²; zero = nobody has said
	Units              quantity.System // of the lengths in sentences
	DaysChecked        bool            // the record of days tells how far to turn the nut; see DaysChecked
	HostLimitPPM       float64         // ± limit of error of the host's crystal left to itself; 0 = timebase.CrystalPPM
	// References are what a time reference told during the session, if there was one.
	References []sessions.Reference
	// HostReadings are what the computer told of its clock during the session, and Earlier
	// the sessions before on the same computer.
	HostReadings []sessions.HostReading
	Earlier      []sessions.HostSpan
	// Run is the run of several sessions to which the beats belong; nil for one session.
	Run *Run

	series func(phase.Series, phase.EvenClock) // hears of all beats; nil for none
}

// usualCountRate is that of microseconds, for a file that says nothing.
const usualCountRate = 1e6

// BeatOptions returns what an Analyser is told of a clock and a session of it;
// what o names wins. Either may be zero.
func BeatOptions(clock sessions.Clock, ses sessions.Session, o RateOptions) (beat.Options, error) {
	out := beat.Options{
		Flag: o.Flag, FlagDistance: o.FlagDistance, CountRate: ses.Timing.CountRate, CountBits: ses.Timing.CountBits,
		Series: o.series,
		Host:   hostOf(ses, o),
	}
	if ses.Imported() {
		out.Host = timebase.Host{Imported: true, LimitPPM: max(o.HostLimitPPM, timebase.CrystalPPM)} // of whichever computer
	}
	if o.CountRate != 0 {
		out.CountRate = o.CountRate
	}
	if o.CountBits != 0 {
		out.CountBits = o.CountBits
	}
	if o.BeatsPerHour == 0 && o.Train == "" {
		o.BeatsPerHour, o.Train = clock.BeatsPerHour, clock.Train
		o.BeatsPerTooth, o.HourArbor = clock.BeatsPerTooth, clock.HourArbor
	}
	if o.Train != "" {
		t, err := parseTrain(o.Train, o.BeatsPerTooth, o.HourArbor)
		if err != nil {
			return beat.Options{}, err
		}
		out.NominalInterval, out.BeatsPerTooth = t.Interval(), t.BeatsPerTooth
		for _, a := range t.Arbors() {
			out.Arbors = append(out.Arbors, beat.Arbor{Index: a.Arbor, Name: a.Name, BeatsPerTurn: a.BeatsPerTurn})
		}
	}
	if b := o.BeatsPerHour; b != 0 {
		if err := CheckBeatsPerHour(b); err != nil {
			return beat.Options{}, err
		}
		out.NominalInterval = 3600 / b
	}
	return out, nil
}

// CheckBeatsPerHour refuses, with a *quantity.InputError, what no clock beats in an
// hour.
func CheckBeatsPerHour(b float64) error {
	if !(b >= 60 && b <= 360000) {
		return quantity.BadInput("beats an hour", b, "must be between 60 and 360000")
	}
	return nil
}

// Rater is a Rate that grows: beats are added as they come, and Result tells at
// any time what they say so far.
type Rater struct {
	*beat.Analyser
	session int64
	clock   sessions.Clock
	o       RateOptions
}

// NewRater returns a Rater for a session of a clock.
func NewRater(clock sessions.Clock, ses sessions.Session, o RateOptions) (*Rater, error) {
	opt, err := BeatOptions(clock, ses, o)
	if err != nil {
		return nil, err
	}
	opt.Stamped = true
	a, err := beat.NewAnalyser(opt)
	if err != nil {
		return nil, err
	}
	a.AddReferences(o.References)
	return &Rater{Analyser: a, session: ses.ID, clock: clock, o: o}, nil
}

// Result returns what the beats so far say. See beat.Analyser.Result; after
// Close it is the same that Rate finds.
func (r *Rater) Result() (beat.Result, error) {
	f, err := r.Analyser.Result()
	if f.Session = r.session; r.o.Run != nil {
		f.Session, f.Sessions = 0, r.o.Run.Sessions()
	}
	if err != nil {
		return f, err
	}
	return f, addPendulum(&f, r.clock, r.o)
}

// Rate returns what a session's beats say of a clock. They come in order, chunk by
// chunk; an error among them ends the sum. The error is a *beat.TooFewError when
// there are too few, a *quantity.InputError for what can't be.
func Rate(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], o RateOptions) (beat.Result, error) {
	a, err := NewRater(clock, ses, o)
	if err != nil {
		return beat.Result{}, err
	}
	err = a.Beside(func() error {
		for chunk, err := range beats {
			if err != nil {
				return err
			}
			a.Add(chunk)
		}
		return nil
	})
	if err != nil {
		return beat.Result{}, err
	}
	return a.Result()
}

// RateFile returns what a beat file says. The count is taken at o.CountRate
// (1000000 a second if 0): the file holds nothing to check it against. The error
// is a *textfile.LineError for a line that is no beat.
func RateFile(r io.Reader, o RateOptions) (beat.Result, error) {
	if o.CountRate == 0 {
		o.CountRate = usualCountRate
	}
	opt, err := BeatOptions(sessions.Clock{}, sessions.Session{}, o)
	if err != nil {
		return beat.Result{}, err
	}
	f, err := beat.Read(textfile.NewReader(r), opt)
	if err != nil {
		return f, err
	}
	return f, addPendulum(&f, sessions.Clock{}, o)
}
