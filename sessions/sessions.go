// Package sessions holds the plain types of the book: what a clockmaker records
// of a clock. The store (book), the tagging (recorder) and the order of measuring
// (plan) are folders of this one and import it. The types import none of them, so
// that analysis can take them without a database.
//
// Nothing recorded is ever changed or deleted. Undo, rejection and correction are
// new rows that point at the old one.
package sessions

import "time"

// Clock is a clock in the book, by its newest description.
type Clock struct {
	ID            int64
	Name          string
	Train         string  // wheels over pinions as typed, "" if not known
	BeatsPerHour  float64 // 0 if neither typed nor to be had from the train
	BeatsPerTooth int     // of the escape wheel; 2 for most escapements
	HourArbor     int     // arbor that turns once an hour, counted from the barrel (1)
	Rod           string  // steel, brass, wood, invar, or a number of ppm per K; "" if not known
	NutPitch      float64 // metres a turn; 0 if not known
	Zone          string  // IANA name of the zone in which times are read and written
	Created       time.Time
}

// Kinds of session.
const (
	SessionMeasure = "measure"
	SessionTime    = "time"
	SessionAir     = "air" // of the air alone; beside a beat sensor it belongs to SessionTime
)

// SessionKinds lists every kind of session.
func SessionKinds() []string { return []string{SessionMeasure, SessionTime, SessionAir} }

// Session is one sitting with one instrument.
type Session struct {
	ID      int64
	ClockID int64
	Kind    string // one of SessionKinds
	Part    string
	Plan    string // measuring plan, for SessionMeasure
	Port    string
	Profile string
	Started time.Time
	Ended   time.Time // zero while it is open, or when it was cut off
	Timing  Timing    // for SessionTime
}

// Imported tells that no instrument was listened to: the beats came from a file. Such a
// session has no port, and lasts no time.
func (s Session) Imported() bool {
	return s.Kind == SessionTime && s.Port == "" && s.Ended.Equal(s.Started)
}

// Timing is what must be known of a beat sensor to read its counts again.
type Timing struct {
	CountRate     float64 // counts a second, nominal; 0 = beats carry no count
	CountBits     int     // width of the counter: 16, 24, 32 or 64
	HostSynced    bool    // the host's clock was disciplined while recording
	HostKnown     bool    // the system told whether it was
	HostMaxErrorS float64 // the system's own bound on its clock's error; 0 = not told
}

// HostReading is what a computer told of its own clock at a moment of a timing session.
type HostReading struct {
	Host   string // which computer, the same for ever; never ""
	Boot   string // which start of it
	Synced bool   // a time service held its clock right
	// MonoNs and RawNs are nanoseconds since it was started: by its monotonic clock, which
	// a time service may steer, and by the bare crystal.
	MonoNs, RawNs int64
}

// HostSpan is an earlier session on a computer, from which its crystal is remembered.
type HostSpan struct {
	Session  Session
	Readings []HostReading
	Told     []Reference // what a time reference told during it, if there was one
}

// TypedInstrument is the instrument of a reading that a person typed.
const TypedInstrument = "typed"

// State of a reading.
type State string

// The states. A doubtful reading is kept and marked; an undone one is kept and
// left out of every sum.
const (
	Kept     State = "kept"
	Doubtful State = "doubtful"
	Undone   State = "undone"
)

// Reading is one value, tagged to a clock, a part and a dimension.
type Reading struct {
	ID        int64
	SessionID int64
	ClockID   int64
	At        time.Time
	Part      string
	Dimension string // bore, arbor, strip … as the plan names it; "zero" for a closed-jaws reading
	Kind      Kind
	// KindGuessed tells that nobody recorded the kind: it is the usual one for the
	// dimension.
	KindGuessed bool
	Value       float64 // metres as read, before any zero correction; newton, newton metre or a bare count for other dimensions
	U           float64 // standard uncertainty that the text itself stated, same unit; 0 if none
	// Rectangular tells that the text stated a limit of error, so that U is that
	// limit over √3 and has ends; else it stated a standard uncertainty.
	Rectangular bool
	Limit       float64 // ± limit of error of the instrument for this kind of measurement, same unit; 0 if not known
	Step        float64 // resolution shown
	Text        string  // as received
	Instrument  string  // profile; TypedInstrument for typed values
	State       State
	Why         string // why it is doubtful
	// Finding is the only one to read it, "" for any. The book doesn't keep it:
	// plan.Resolve takes it from the plan of the session.
	Finding Finding
	// ReplacedBy is the note by which its part was replaced, 0 for none: it is undone then.
	ReplacedBy int64
}

// Fault is something that went wrong on the line during a session.
type Fault struct {
	ID        int64
	SessionID int64
	At        time.Time
	Kind      string
	Text      string
}

// Beat is one event of a timing session as it was heard.
type Beat struct {
	Count    uint64 // device's count as sent
	HostMono int64  // nanoseconds since the session's first beat, by the host's monotonic time
	HostUTC  int64  // nanoseconds since 1970 by the host's clock
	Edge     int16
	// Break tells that the line was broken or the counter started anew just before
	// this event, so that its count can't be joined to the one before.
	Break bool
}

// Reference is one time that a time reference told during a timing session. The
// host's stamps are of the first byte that told it, or of the pulse with which its
// second began; they can only be late.
type Reference struct {
	HostMono int64 // as a Beat's: nanoseconds since the session's first beat
	HostUTC  int64 // nanoseconds since 1970 by the host's clock
	Nanos    int64 // nanoseconds since 1970 UTC by the reference
	ByPulse  bool
}

// Check is one comparison of the dial with a reference.
type Check struct {
	ID      int64
	ClockID int64
	At      time.Time
	ErrorS  float64 // plus = the clock is fast
	U       float64 // standard uncertainty, seconds
}

// Kinds of event in a clock's life.
const (
	EventWound    = "wound"
	EventAdjusted = "adjusted"
	EventMoved    = "moved"
	EventOiled    = "oiled"
	EventCleaned  = "cleaned"
	EventRepaired = "repaired"
	EventBushed   = "bushed"
	EventReplaced = "replaced" // a part of it, which Text names
	EventStopped  = "stopped"
	EventStarted  = "started"
	EventSet      = "set"
	EventRemark   = "remark"
)

// EventKinds lists every kind of event, in the order in which help names them.
func EventKinds() []string {
	return []string{EventWound, EventAdjusted, EventMoved, EventOiled, EventCleaned,
		EventRepaired, EventBushed, EventReplaced, EventStopped, EventStarted, EventSet, EventRemark}
}

// Event is something that was done to a clock or befell it.
type Event struct {
	ID       int64
	ClockID  int64
	At       time.Time
	Kind     string
	Turns    float64 // signed nut turns, plus = made to gain
	HasTurns bool
	// Before and After are the dial's errors in seconds around a setting of the
	// hands; After is taken from the next check where HasAfter is false.
	Before, After       float64
	HasBefore, HasAfter bool
	Text                string
}

// Air is one sample of the air about a clock. NaN-free: the flags tell what was
// measured.
type Air struct {
	ID                                       int64
	ClockID                                  int64
	At                                       time.Time
	TemperatureC, PressureHPa, HumidityPct   float64
	HasTemperature, HasPressure, HasHumidity bool
}

// Record is all that the book holds of one clock but its beats, in order of time.
type Record struct {
	Clock    Clock
	Sessions []Session
	Readings []Reading
	Checks   []Check
	Events   []Event
	Air      []Air
	// Particulars are what was told or seen, and not measured.
	Particulars []Particular
	// Withdrawn is what was taken back: it is shown, and left out of every sum. Readings
	// aren't in it, since each has its state.
	Withdrawn Withdrawn
}

// Withdrawn are rows of a record that were taken back.
type Withdrawn struct {
	Sessions []TakenBack[Session]
	Checks   []TakenBack[Check]
	Events   []TakenBack[Event]
	Air      []TakenBack[Air]

	Particulars []TakenBack[Particular]
}

// TakenBack is a row that was taken back, and the reason that was given, if any.
type TakenBack[T any] struct {
	Row T
	Why string
}
