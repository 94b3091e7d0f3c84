package analysis

import (
	"fmt"
	"math"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// addPendulum adds the effective length of a clock's pendulum, by the beat heard, and how
// far that is from what would keep time. It is for clocks whose beats an hour are known:
//
//	L = g·T²/π²,  L − L₀ = L₀·((T/T₀)² − 1)
//
// T is the interval heard, T₀ the nominal one, seconds; g gravity in m/s², that of
// anywhere on the globe where it is zero. The lengths are of a pendulum of small
// arc: this one's arc changes both alike. The uncertainty of the
// difference is the rate's; gravity's counts only as its share of the difference.
func addPendulum(f *beat.Result, clock sessions.Clock, o RateOptions) error {
	nominal := 3600 / f.NominalBeatsH
	known := o.Train != "" || o.BeatsPerHour != 0 || clock.BeatsPerHour != 0 || clock.Train != ""
	if !known || nominal < fastestPendulum && clock.Rod == "" && clock.NutPitch == 0 {
		return nil
	}
	share := f.IntervalS/nominal - 1
	if math.Abs(share) > farBeat {
		return nil // the beats heard are not those of the train: a warning says so
	}
	g := o.Gravity
	if g.V == 0 {
		g = pendulum.GravityAnywhere()
	}
	asked, err := pendulum.Length(nominal, g)
	if err != nil {
		return err
	}
	has, err := pendulum.Length(f.IntervalS, g)
	if err != nil {
		return err
	}
	rate := f.Rate.Value
	own := 2 * asked.V * rate.U / 86400
	has.U = math.Hypot(has.U, own)
	off := asked.V * share * (2 + share)
	p := beat.Pendulum{Length: has, Asked: asked, Difference: quantity.Value{V: off, U: math.Hypot(own, off*g.U/g.V), K: rate.K}}
	if clock.NutPitch > 0 {
		turns := nutTurns(p.Difference, clock.NutPitch)
		p.NutTurns = &turns
	}
	f.Pendulum = &p
	sayPendulum(f, o)
	return nil
}

// nutTurns returns the turns that take off a length in metres, with a nut of the given
// pitch: by any rod, see pendulum.NutShare.
func nutTurns(off quantity.Value, pitch float64) quantity.Value {
	least, most, u := pendulum.NutShare()
	rise := pitch * (least + most) / 2
	spread := math.Hypot((most-least)/(most+least)/math.Sqrt(3), u)
	turns := off.Scale(1 / rise)
	turns.U = math.Hypot(turns.U, turns.V*spread)
	return turns
}

// farBeat is how far the interval may lie from the nominal one, as a share, to be of
// the same pendulum.
const farBeat = 0.05

// sayPendulum puts the pendulum's length into words.
func sayPendulum(f *beat.Result, o RateOptions) {
	p, u := f.Pendulum, o.Units
	text := fmt.Sprintf("At this beat the pendulum's effective length is %s; %s would keep time. Most of the uncertainty of both comes from gravity, which hardly touches their difference.", u.Length(p.Length), u.Length(p.Asked))
	if o.Gravity.V == 0 {
		text += " Where the clock stands is not given, so both allow for gravity anywhere from the equator to the poles."
	}
	f.Reasons = append(f.Reasons, text)
	size, way := p.Difference, "long"
	if size.V < 0 {
		size.V, way = -size.V, "short"
	}
	if p.Difference.Covers(0) {
		f.Reasons = append(f.Reasons, fmt.Sprintf("Whether the pendulum is too long or too short can't be told yet: the difference is %s.", u.Length(p.Difference)))
		return
	}
	text = fmt.Sprintf("The pendulum is too %s by %s", way, u.Length(size))
	if p.NutTurns != nil {
		turns, to := *p.NutTurns, "raise the bob"
		if turns.V < 0 {
			turns.V, to = -turns.V, "lower the bob"
		}
		text += fmt.Sprintf(", or %s of the rating nut to %s, a heavy rod allowed for", turns.Text("turns"), to)
	}
	f.Reasons = append(f.Reasons, text+".")
	if p.NutTurns != nil {
		first := "Before you turn the nut, let the clock go for a day or two"
		if o.DaysChecked {
			first = "Find how far to turn the nut from the checks of the dial with `evenbeat going`"
		}
		f.Next = append(f.Next, first+": minutes of listening don't show what days do. Hold the bob while you turn it, so that the suspension isn't twisted.")
	}
}

// DaysChecked reports whether the checks of a clock, in order of time, span a day or more, and
// the last is no more than a week older than a session that began then. Only such a record is
// of the clock as it was heard.
func DaysChecked(checks []sessions.Check, begun time.Time) bool {
	if len(checks) == 0 {
		return false
	}
	first, last := checks[0].At, checks[len(checks)-1].At
	return last.Sub(first) >= 24*time.Hour && begun.Sub(last) <= 7*24*time.Hour
}
