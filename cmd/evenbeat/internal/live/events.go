package live

import (
	"slices"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// The kinds of event besides the recorder's, with the fields that belong to each.
const (
	Whole      recorder.Kind = "state"      // State
	Searching  recorder.Kind = "searching"  // Search
	Recognised recorder.Kind = "recognised" // Search: what was found, and where
	Started    recorder.Kind = "started"    // Session is in the book; Next is asked for
	Joined     recorder.Kind = "joined"     // Session: Port and Profile of another instrument that takes part
	Heard      recorder.Kind = "heard"      // Said, which is not yet in the book
	Estimated  recorder.Kind = "estimate"   // Estimate
	Warning    recorder.Kind = "warning"    // Warning: a port or the raw capture fails, the session goes on
	Ticked     recorder.Kind = "tick"       // At, Quiet, Silent: a second of timing has passed, or a silence begun
	Ended      recorder.Kind = "ended"      // At, Err, and in timing the last Estimate; nothing follows
)

// Event is one thing that happened in a session. What it holds is shared by all
// subscribers and must not be written to.
type Event struct {
	// Seq numbers a session's events from 1, without a gap. That of a Whole is the
	// number of the last event the state holds.
	Seq int64
	recorder.Event
	State    *State
	Search   SearchStep
	Session  sessions.Session
	Said     []devices.Said
	Total    int64 // with recorder.Beats in place of them: how many are in the book
	Estimate *Estimate
	Warning  string
	At       time.Time     // what time it is
	Quiet    time.Duration // for how long nothing was heard of the sensor
	Silent   bool          // that is too long for a clock that goes
	Err      error

	asks bool // Next is new
}

// Estimate is what the beats so far say of the rate, or why they say nothing yet.
type Estimate struct {
	Result beat.Result
	Err    error
}

// Reading is a reading of the session with what became of it.
type Reading struct {
	sessions.Reading // with the state it got when it came
	Next             plan.Ask
	Undone           bool
}

// At is an instrument and where it is.
type At struct{ Port, Profile string }

// State is the sum of a session's events so far.
type State struct {
	Seq      int64 // of the last event that it holds
	Clock    string
	Part     string
	Plan     plan.Plan          // of measuring
	Before   []plan.Had         // what earlier sessions kept of it
	Replaced []sessions.Reading // of earlier sessions, that no longer count because the part was replaced
	Left     plan.Left          // of the plan, step by step, by now
	Typed    bool               // readings are typed; there is no instrument
	Heard    []At               // the instruments that are listened to; the first is the session's own
	Session  sessions.Session   // as started; its ID is 0 until then
	Over     bool               // the session has ended
	Next     plan.Ask           // what is asked for now; its String is "" for nothing
	Readings []Reading          // in the order in which they came
	Beats    int64              // in the book
	Faults   int64              // in the book, though fewer rows may stand for them
	Fault    sessions.Fault     // the last one
	Quiet    time.Duration      // for how long nothing was heard of a timing session's sensor
	Silent   bool               // that is too long for a clock that goes
	Refused  int64              // typed lines that could not be taken
	Warnings []string
	Search   SearchStep // the last step of the search, if there was one
	Estimate *Estimate  // the last one, nil before the first
	Air      AirSum     // in the book
	Err      error      // why it ended, where something went wrong
}

// apply updates the state by an event, and removes from the event what subscribers
// must not keep.
func (s *State) apply(e *Event) {
	s.Seq = e.Seq
	switch e.Kind {
	case recorder.Kept, recorder.Doubtful:
		s.Readings = append(s.Readings, Reading{Reading: e.Reading, Next: e.Next})
	case recorder.Undone:
		for i := range s.Readings {
			s.Readings[i].Undone = s.Readings[i].Undone || s.Readings[i].ID == e.Undone
		}
	case recorder.Faulty:
		s.Faults += int64(e.Times)
		s.Fault = e.Fault
		if s.Typed && e.Fault.Kind == string(devices.FaultGarbage) {
			s.Refused += int64(e.Times)
		}
	case recorder.Beats:
		s.Beats = e.Total
	case recorder.Aired:
		s.Air = s.Air.with(e.Air, e.Times)
	case Ticked:
		s.Quiet, s.Silent = e.Quiet, e.Silent
	case Heard:
		if slices.ContainsFunc(e.Said, speaks) {
			s.Quiet, s.Silent = 0, false
		}
	case Searching, Recognised:
		s.Search = e.Search
	case Started:
		s.Session, s.Air.last = e.Session, e.Session.Started
		s.Heard = append(s.Heard, At{e.Session.Port, e.Session.Profile})
	case Joined:
		s.Heard = append(s.Heard, At{e.Session.Port, e.Session.Profile})
	case Warning:
		s.Warnings = append(s.Warnings, e.Warning)
	case Ended:
		s.Over, s.Err = true, e.Err
		s.Air = s.Air.upTo(e.At)
	}
	if e.Estimate != nil {
		s.Estimate = e.Estimate
	}
	if e.asks {
		s.Next, s.Left = e.Next, e.Left
	}
	e.Next = s.Next
	e.Beats, e.References = nil, nil // the recorder writes over them
}

// clone returns a copy that later events leave as it is.
func (s *State) clone() *State {
	c := *s
	c.Readings, c.Warnings, c.Heard = slices.Clone(s.Readings), slices.Clone(s.Warnings), slices.Clone(s.Heard)
	return &c
}

// Zeroed reports whether the instrument's zero was taken.
func (s *State) Zeroed() bool {
	return slices.ContainsFunc(s.Readings, func(r Reading) bool { return r.Dimension == plan.Zero && !r.Undone })
}
