package render

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"evenbeat/analysis"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// turnText writes the time of a turn, from a minute on to the second.
func turnText(seconds float64) string {
	if seconds < 60 {
		return quantity.SpanText(seconds)
	}
	return quantity.SpanWords(seconds)
}

// Clock writes what the book knows of a clock and what follows from it for a person.
func Clock(w io.Writer, f analysis.ClockFindings, u quantity.System, zone *time.Location) error {
	r := New(w)
	r.Head(f.Name)
	if f.Train != "" {
		r.Row("train", f.Train)
	}
	if f.BeatsPerHour > 0 {
		r.Row("beats per hour", fmt.Sprintf("%s, one every %.6g s", Number(f.BeatsPerHour), f.IntervalS))
	}
	for _, x := range f.Arbors {
		r.Row(fmt.Sprintf("arbor %d, %s", x.Arbor, x.Name), "turns in "+turnText(x.PeriodS))
	}
	if f.PendulumLength != nil {
		r.Row("pendulum length", u.Length(*f.PendulumLength)+" required")
	}
	if f.RodPerKelvin != nil {
		r.Row("rod", f.RodPerKelvin.Signed("s/day per K"))
	}
	if f.NutPerTurn != nil {
		r.Row("rating nut", f.NutPerTurn.Signed("s/day a turn")+" with a light rod")
	}
	if f.LastWound != nil {
		r.Row("last wound", f.LastWound.In(zone).Format("2 Jan 2006 15:04"))
	}
	if f.WindBy != nil {
		r.Row("wind by", f.WindBy.In(zone).Format("2 Jan 2006 15:04"))
	}
	r.List("Why", "-", f.Reasons)
	return r.err
}

// Number writes a plain number, and a question mark for one that is not known.
func Number(x float64) string {
	if x == 0 {
		return "?"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// Air writes a temperature, pressure or humidity to a hundredth.
func Air(x float64) string {
	return quantity.Minus(strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64))
}

// Event writes what an event says besides its time and words.
func Event(e sessions.Event) string {
	text := e.Kind
	if e.HasTurns {
		text += " by " + quantity.SignedTurns(e.Turns, 4)
	}
	if e.HasBefore {
		text += quantity.Minus(fmt.Sprintf(" from %+.2f s", e.Before))
	}
	if e.HasAfter {
		text += quantity.Minus(fmt.Sprintf(" to %+.2f s", e.After))
	}
	return text
}
