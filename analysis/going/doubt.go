package going

import (
	"fmt"
	"math"
	"time"

	"evenbeat/devices/quantity"
)

// A check is doubtful beyond both of these from the forecast (our own choice, no
// source). Four standard deviations of forecast and check leave one sound check in
// sixteen thousand, if they are normal. A misread minute is more than ten seconds, and where
// the clock really went that far, the next check confirms it.
const (
	farDeviations = 4.0
	farSeconds    = 10.0
)

// lookBack is how many checks foretell the next: more of them hardly tell it better.
const lookBack = 10

// anyClock is the standard deviation of a rate of which nothing is known, in s/day: no
// going clock is out by forty minutes a day (our own choice, no source). So an hour
// misread shows from the second check on, and after a turn of the nut.
const anyClock = 600.0

// slip is the usual error of a reading beside a misread minute or hour, in seconds.
const slip = 5.0

// Doubt is a check far from what the checks before it foretell, which no later one
// confirms. It stays out of the fit and of all that follows from it.
type Doubt struct {
	Check int64          `json:"check"` // 0 for one that isn't recorded yet
	At    time.Time      `json:"time"`  // of the check
	Off   quantity.Value `json:"off_s"` // from the forecast
}

// Doubts returns the doubtful checks in order of time. The error is that of Analyse.
func (in In) Doubts() ([]Doubt, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	return in.timeline().doubts, nil
}

// sift leaves out the doubtful checks. One is confirmed by the next of its run that is
// off to the same side by half as much or more, and not by more than mostGrowth of what a
// changed rate makes of it. Where both are off by the same whole minutes, the hands were
// moved or are read otherwise: a run begins.
func (tl *timeline) sift() {
	var kept []point
	var suspect point
	var open bool // suspect can still be confirmed
	shift := 0
	for _, q := range tl.points {
		q.run += shift
		open = open && suspect.run == q.run
		off, ok := tl.foretold(kept, q)
		far := ok && math.Abs(off.V) >= max(farSeconds, farDeviations*off.U)
		last := len(tl.doubts) - 1
		jump := open && wholeOff(off) != 0 && wholeOff(off) == wholeOff(tl.doubts[last].Off)
		switch {
		case jump || open && far && confirms(off.V/tl.doubts[last].Off.V, kept[len(kept)-1].t, suspect.t, q.t):
			if jump {
				tl.jumps = append(tl.jumps, tl.doubts[last])
				shift++
				suspect.run++
				q.run++
			}
			tl.doubts, open = tl.doubts[:last], false
			kept = append(kept, suspect, q)
		case !far:
			open = false
			kept = append(kept, q)
		case q.check == nil:
			kept = append(kept, q)
		default:
			tl.doubts = append(tl.doubts, Doubt{Check: q.check.ID, At: q.check.At, Off: off})
			suspect, open = q, true
		}
	}
	tl.points = kept
}

// mostGrowth is how many times further off than a steady new rate makes it a check may be
// that confirms another (our own choice, no source): the rate may have changed late, or
// still be changing. An hour misread doesn't confirm a minute misread.
const mostGrowth = 2.0

// confirms tells of a check at time t, off by ratio times as much as the suspect, whether
// both can be the same change of rate or one step, after the last sound check at sound.
func confirms(ratio, sound, suspect, t float64) bool {
	return ratio >= 0.5 && ratio*(suspect-sound) <= mostGrowth*(t-sound)
}

// foretold returns how far a point is from what those before it foretell, with the
// uncertainty of both. It reports false where they foretell nothing.
func (tl *timeline) foretold(before []point, q point) (quantity.Value, bool) {
	n := len(before)
	if n == 0 || before[n-1].run != q.run {
		return quantity.Value{}, false
	}
	if n > 1 && before[n-2].run == q.run && before[n-1].t > before[n-2].t {
		a, b := before[n-2], before[n-1]
		if off := q.e - b.e - (b.e-a.e)/(b.t-a.t)*(q.t-b.t); math.Abs(off) < farSeconds/2 {
			return quantity.Value{V: off}, true // on the line through the last two: nothing to weigh
		}
	}
	recent := timeline{points: before[max(0, n-lookBack):]}
	for _, a := range tl.acts {
		if a.t > recent.points[0].t && a.t < q.t {
			recent.acts = append(recent.acts, a)
		}
	}
	columns := recent.base(false)
	for i := range columns {
		columns[i].prior = anyClock
	}
	p := recent.weigh(columns)
	if len(p.estimates) == 0 {
		return quantity.Value{}, false
	}
	v := p.ahead(&recent, columns, q.t-before[n-1].t)
	off := quantity.Value{V: q.e - v.V, U: math.Hypot(v.U, q.u)}
	return off, off.Finite()
}

// wholeOff returns the whole minutes that a check is off by, 0 where it isn't. An hour may be
// off by more than a minute may: hardly anything else comes near it.
func wholeOff(off quantity.Value) float64 {
	if h := math.Round(off.V / 3600); h != 0 && math.Abs(off.V-3600*h) <= min(max(6*slip, off.Half95()), 300) {
		return 60 * h
	}
	if m := math.Round(off.V / 60); math.Abs(off.V-60*m) <= slip {
		return m
	}
	return 0
}

// far writes how far the check is off.
func (d Doubt) far() string {
	s := math.Round(d.Off.V)
	if m := wholeOff(d.Off); m != 0 && math.Mod(m, 60) == 0 {
		s = 60 * m
	}
	if math.Abs(s) < 180 {
		return quantity.Minus(fmt.Sprintf("%+.0f s", s))
	}
	return map[bool]string{true: "−", false: "+"}[s < 0] + quantity.SpanWords(math.Abs(s))
}

// Asks says how far the check is off, and what may have gone wrong.
func (d Doubt) Asks() string {
	why := "misread?"
	switch m := math.Abs(wholeOff(d.Off)); {
	case m == 0:
	case math.Mod(m, 60) == 0:
		why = "summer time, or the hour misread?"
	case m == 1:
		why = "a minute misread?"
	default:
		why = fmt.Sprintf("%.0f minutes misread?", m)
	}
	return d.far() + " from the forecast: " + why
}
