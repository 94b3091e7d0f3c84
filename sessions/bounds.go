package sessions

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"evenbeat/devices/quantity"
)

// The bounds of what is typed or comes from a file. Each Validate refuses, with a
// *quantity.InputError, what every sum would refuse as long as the book lasts. now is the
// time by this computer's clock.

// Validate checks a comparison of the dial.
func (c Check) Validate(now time.Time) error {
	if err := validTime(c.At, now); err != nil {
		return err
	}
	if err := validDial("error", c.ErrorS); err != nil {
		return err
	}
	if !(c.U >= 0 && c.U <= quantity.MaxDialError.Seconds()) {
		return quantity.BadInput("uncertainty", fmt.Sprintf("%g s", c.U), fmt.Sprintf("must be from 0 to %g h", quantity.MaxDialError.Hours()))
	}
	return nil
}

func validDial(name string, s float64) error {
	if !(math.Abs(s) <= quantity.MaxDialError.Seconds()) {
		return quantity.BadInput(name, fmt.Sprintf("%g s", s), fmt.Sprintf("no dial can be more than %g h out", quantity.MaxDialError.Hours()))
	}
	return nil
}

// aheadAtMost is how far ahead of this computer's clock a time may lie: that clock may be
// wrong, but a year is a slip.
const aheadAtMost = 366 * 24 * time.Hour

func validTime(t, now time.Time) error {
	text := t.Format(time.RFC3339)
	switch {
	case t.Year() < quantity.FirstYear || t.Year() > quantity.LastYear:
		return quantity.BadInput("time", text, fmt.Sprintf("the year must be from %d to %d", quantity.FirstYear, quantity.LastYear))
	case t.Sub(now) > aheadAtMost:
		return quantity.BadInput("time", text, "more than a year ahead of this computer's clock: mend the year, or set that clock")
	}
	return nil
}

// Validate checks something that was done to a clock or befell it.
func (e Event) Validate(now time.Time) error {
	if err := validTime(e.At, now); err != nil {
		return err
	}
	switch {
	case !slices.Contains(EventKinds(), e.Kind):
		return quantity.BadInput("kind", fmt.Sprintf("%q is not known", e.Kind), "use "+strings.Join(EventKinds(), ", "))
	case !e.HasTurns:
	case !(math.Abs(e.Turns) <= quantity.MaxTurns):
		return quantity.BadInput("turns", e.Turns, fmt.Sprintf("must be from −%d to %[1]d, plus = made to gain", quantity.MaxTurns))
	case e.Kind != EventAdjusted:
		return quantity.BadInput("turns", e.Turns, "goes with the kind adjusted, not "+e.Kind)
	}
	for _, s := range []float64{e.Before, e.After} {
		if err := validDial("error", s); err != nil {
			return err
		}
	}
	return nil
}

// mostTurns of the nut are noted without a question. They change the rate by minutes a
// day (our own choice, no source).
const mostTurns = 10

// Odd says what is unlikely of an event, "" for nothing.
func (e Event) Odd() string {
	if math.Abs(e.Turns) <= mostTurns {
		return ""
	}
	return quantity.Turns(e.Turns, -1) + " of the nut are unusually many, since a few change the rate by minutes a day"
}

// Validate checks a sample of the air about a clock.
func (a Air) Validate(now time.Time) error {
	if err := validTime(a.At, now); err != nil {
		return err
	}
	if !a.HasTemperature && !a.HasPressure && !a.HasHumidity {
		return quantity.BadInput("air", "", "nothing was measured: give temperature, pressure or humidity")
	}
	for _, x := range []struct {
		name, unit string
		has        bool
		v          float64
		may        quantity.Range
	}{
		{"temperature", "°C", a.HasTemperature, a.TemperatureC, quantity.Celsius},
		{"pressure", "hPa", a.HasPressure, a.PressureHPa, quantity.Hectopascal},
		{"humidity", "%", a.HasHumidity, a.HumidityPct, quantity.PercentHumidity},
	} {
		if x.has && !x.may.Holds(x.v) {
			return quantity.BadInput(x.name, fmt.Sprintf("%g %s", x.v, x.unit), fmt.Sprintf("no room has such air: must be from %g to %g", x.may.Low, x.may.High))
		}
	}
	return nil
}

// Validate checks a reading. One that was undone may have any finite size, since no sum
// takes it.
func (r Reading) Validate(now time.Time) error {
	if err := validTime(r.At, now); err != nil {
		return err
	}
	for _, x := range []struct{ thing, name string }{{"part", r.Part}, {"dimension", r.Dimension}, {"instrument", r.Instrument}} {
		if x.thing == "instrument" && x.name == "" {
			continue // nobody said
		}
		if err := quantity.CheckName(x.thing, x.name); err != nil {
			return err
		}
	}
	if !r.KindGuessed && !slices.Contains(Kinds(), r.Kind) {
		return quantity.BadInput("kind", fmt.Sprintf("%q is not known", r.Kind), "use outside, inside, depth, typed or count")
	}
	if !slices.Contains([]State{Kept, Doubtful, Undone}, r.State) {
		return quantity.BadInput("state", fmt.Sprintf("%q is not known", r.State), "use kept, doubtful or undone")
	}
	return r.validSize()
}

// ZeroWithin is how near to zero a reading of closed jaws lies, in metres.
const ZeroWithin = 0.2e-3

// ZeroDimension is the dimension of a closed-jaws reading.
const ZeroDimension = "zero"

func (r Reading) validSize() error {
	most, unit := quantity.MaxLength, " m"
	if r.Kind == Count {
		most, unit = quantity.MaxCounted, ""
	}
	text, v := fmt.Sprintf("%g%s", r.Value, unit), math.Abs(r.Value)
	for _, u := range []float64{r.U, r.Limit, r.Step} {
		if !(u >= 0 && u <= most) {
			return quantity.BadInput("uncertainty, limit or step", fmt.Sprintf("%g%s", u, unit), fmt.Sprintf("must be from 0 to %g%s", most, unit))
		}
	}
	switch {
	case r.State == Undone && v <= math.MaxFloat64:
	case !(v <= most):
		return quantity.BadInput(r.Dimension, text, fmt.Sprintf("must be at most %g%s: was the unit meant?", most, unit))
	case r.State != Kept: // what is doubtful may be of any size that can be measured
	case r.Dimension == ZeroDimension && v > ZeroWithin:
		return quantity.BadInput(r.Dimension, text, fmt.Sprintf("closed jaws read within %g mm of 0", ZeroWithin*1e3))
	case r.Dimension != ZeroDimension && r.Value < quantity.MinLength:
		return quantity.BadInput(r.Dimension, text, "must be above 0, and a size that can be measured")
	}
	return nil
}
