package going

import (
	"fmt"
	"math"
	"time"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// In is what is known of a clock's going, in any order of time.
type In struct {
	Checks []sessions.Check
	Events []sessions.Event
	Air    []sessions.Air
	// Amplitudes are the pendulum's semi-amplitudes in degrees.
	Amplitudes []Sample
	// From and To bound the checks that count; zero means no bound.
	From, To time.Time
	// Zone is the zone of times in sentences; nil means UTC.
	Zone *time.Location

	// Rod is the pendulum's, nil if not known.
	Rod *pendulum.Rod
	// Length is the pendulum's effective length in metres, 0 if not known.
	Length quantity.Value
	// NutPitch is in metres a turn, 0 if not known.
	NutPitch float64
	// Balance is true for a clock with a balance instead of a pendulum.
	Balance bool
}

// Sample is one value of a covariate.
type Sample struct {
	At    time.Time
	Value float64
}

// assumedU is the standard uncertainty of a check that states none: a limit of half a
// second, for a hand read by eye (common practice, no source).
var assumedU = 0.5 / math.Sqrt(3)

// maxError bounds the error of a dial in seconds. A dial can't be wrong by more than
// twelve hours, and a year is certainly a slip.
const maxError = 366 * 86400

// check finds what no check, event or air could have.
func (in In) check() error {
	for _, c := range in.Checks {
		switch {
		case !dialError(c.ErrorS):
			return in.badDial("check", c.At, c.ErrorS)
		case !(c.U >= 0 && c.U <= maxError):
			return quantity.BadInput("check", fmt.Sprintf("of %s, uncertainty %g s", in.when(c.At), c.U), "give seconds, 0 or more")
		}
	}
	for _, e := range in.Events {
		switch {
		case !dialError(e.Before):
			return in.badDial("setting", e.At, e.Before)
		case !dialError(e.After):
			return in.badDial("setting", e.At, e.After)
		case !(math.Abs(e.Turns) <= 1e4):
			return quantity.BadInput("nut", fmt.Sprintf("at %s, %s", in.when(e.At), quantity.Turns(e.Turns, -1)), "give the turns as a number, plus = made to gain")
		}
	}
	for _, a := range in.Air {
		if a.HasTemperature && !(math.Abs(a.TemperatureC) < 1000) || a.HasPressure && !(math.Abs(a.PressureHPa) < 1e5) {
			return quantity.BadInput("air", fmt.Sprintf("of %s, %g °C, %g hPa", in.when(a.At), a.TemperatureC, a.PressureHPa), "not the air of any room")
		}
	}
	for _, a := range in.Amplitudes {
		if !(a.Value >= 0 && a.Value < 360) {
			return quantity.BadInput("amplitude", fmt.Sprintf("of %s, %g degrees", in.when(a.At), a.Value), "must be from 0 to 360 degrees")
		}
	}
	return in.checkPendulum()
}

func (in In) checkPendulum() error {
	switch {
	case !(in.NutPitch >= 0 && in.NutPitch < 1):
		return quantity.BadInput("nut pitch", fmt.Sprintf("%g m", in.NutPitch), "give the rise of one turn, well under a metre")
	case !(in.Length.V >= 0 && in.Length.V < 1e3) || !in.Length.Finite():
		return quantity.BadInput("pendulum length", fmt.Sprintf("%g m", in.Length.V), "give metres, above 0")
	}
	return nil
}

// dialError reports whether a dial can be out by so many seconds.
func dialError(s float64) bool { return math.Abs(s) <= maxError }

func (in In) badDial(name string, at time.Time, s float64) error {
	return quantity.BadInput(name, fmt.Sprintf("of %s, %g s", in.when(at), s), "the error of a dial is a number of seconds, and no more than a year of them")
}

func (in In) zone() *time.Location {
	if in.Zone == nil {
		return time.UTC
	}
	return in.Zone
}

// when writes a time for a sentence.
func (in In) when(t time.Time) string { return t.In(in.zone()).Format("2 Jan 2006 15:04") }
