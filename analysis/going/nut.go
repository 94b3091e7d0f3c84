package going

import (
	"fmt"
	"math"
	"slices"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
)

// Sources of the effect of a turn.
const (
	fromRecord   = "record"
	fromGeometry = "geometry"
)

// leastTurn is the smallest turn worth making by hand (common practice, no source).
const leastTurn = 0.05

// misnoted is how likely pitch, length or the turns made are noted wrong, before the
// record is looked at: a turn may then do anything like half as much again or half as
// little (our own choice, no source). So a record that the thread can't explain is
// believed instead.
const misnoted = 0.01

// nut returns the effect of a turn, by its thread and by the record where turns were
// noted and the rate is known on both sides. Where both tell of it they are one
// posterior: what the thread allows is the prior, and the record its evidence. The source
// is the one that alone is the more certain. The sentences say what each has.
func (in In) nut(tl *timeline) (*Nut, []string) {
	thread, record := in.thread(), tl.turning()
	byThread, byRecord := thread.value(), record.value()
	by := Nut{PerTurn: byThread, Source: fromGeometry}
	var why []string
	switch {
	case len(record) == 0:
	case byRecord.High95() < 0:
		why = append(why, fmt.Sprintf("By the record a turn noted as gaining made the clock lose (%s a turn): was the sign of the turns noted the wrong way round?", byRecord.Signed("s/day")))
	case thread == nil && byRecord.Low95() > 0:
		return &Nut{PerTurn: byRecord, Source: fromRecord}, []string{fmt.Sprintf("A turn of the nut changes the rate by %s, by the rates before and after it was turned.", byRecord.Signed("s/day"))}
	case thread == nil:
		why = append(why, fmt.Sprintf("The nut was turned, but how much a turn changes the rate can't be told from the record yet (%s a turn).", byRecord.Signed("s/day")))
	default:
		by.PerTurn = record.times(append(thread, part{misnoted, byThread.V, byThread.V / 2})).value()
		return in.together(by, byThread, byRecord)
	}
	if thread == nil {
		return nil, why
	}
	return &by, append(why, fmt.Sprintf("A turn of the nut changes the rate by %s, worked out from its thread of %.3f mm and the pendulum's length of %.0f mm: anything from a light rod to one half as heavy as the bob is allowed for.",
		byThread.Signed("s/day"), in.NutPitch*1e3, in.Length.V*1e3))
}

// together judges the effect of a turn that thread and record have told together.
func (in In) together(by Nut, byThread, byRecord quantity.Value) (*Nut, []string) {
	record, thread := byRecord.Signed("s/day"), byThread.Signed("s/day")
	apart := byRecord.High95() < byThread.Low95() || byRecord.Low95() > byThread.High95()
	if byRecord.Half95() < byThread.Half95() {
		by.Source = fromRecord
	}
	switch {
	case by.PerTurn.Low95() <= 0:
		return nil, []string{fmt.Sprintf("By the record a turn of the nut changed the rate by %s, but its thread gives %s: did the bob follow the nut, and are pitch and turns noted right?", record, thread)}
	case apart:
		return &by, []string{fmt.Sprintf("A turn of the nut changes the rate by %s by the record, but its thread gives %s: are pitch and turns noted right?", record, thread)}
	}
	return &by, []string{fmt.Sprintf("A turn of the nut changes the rate by %s: %s by the rates before and after it was turned and %s by its thread, taken together.", by.PerTurn.Signed("s/day"), record, thread)}
}

// turning returns the effect of a turn by the record alone, nil where no turn shows in it.
// It is by the posterior that tells what a turn brought, so that one turn has one effect.
func (tl *timeline) turning() mixture {
	if !slices.ContainsFunc(tl.acts, act.turned) {
		return nil
	}
	p := tl.weigh(tl.withRunDown(tl.base(true)))
	p = p.restless()
	return p.along(unit(len(p.obs.priors), 1))
}

func unit(n, i int) []float64 {
	c := make([]float64, n)
	c[i] = 1
	return c
}

// thread returns the effect of a turn by pitch and length, nil where they aren't known:
// of any rod, light or heavy.
func (in In) thread() mixture {
	if in.Balance || !(in.NutPitch > 0) || !(in.Length.V > 0) {
		return nil
	}
	per, err := pendulum.NutPerTurn(in.NutPitch, in.Length)
	if err != nil {
		return nil
	}
	least, most, u := pendulum.NutShare()
	// Normal distributions as far apart as they are wide make an even one.
	n := math.Round((most - least) / u)
	var m mixture
	for i := 0.0; i <= n; i++ {
		m = append(m, part{weight: 1 / (n + 1), mean: per.V * (least + (most-least)*i/n), sd: math.Hypot(u*per.V, per.U)})
	}
	return m
}

// advise fills in the turns that bring the rate to zero. The interval holds the
// uncertainty of the rate and of the turn, and the wandering: over the days in which the
// rate was seen and over the coming week, which no turn cures.
func (n *Nut) advise(rate quantity.Value, wander float64) {
	turns := -rate.V / n.PerTurn.V
	u := math.Hypot(math.Hypot(rate.U, wander)/n.PerTurn.V, turns*n.PerTurn.U/n.PerTurn.V)
	if advice := (quantity.Value{V: turns, U: math.Abs(u)}); advice.Finite() {
		n.Advice = &advice
	}
}

// runDown is how the rate goes with the hours since winding: its column in the model, and
// what an hour does.
type runDown struct {
	column
	per quantity.Value
}

// withRunDown adds the winding to a model where it shows. Else its going up and down would
// be taken for wandering, and a turn made late in it for another's effect.
func (tl *timeline) withRunDown(columns []column) []column {
	if tl.runDown == nil {
		return columns
	}
	return append(columns, tl.runDown.column)
}

// lastAct returns when the clock was last touched, or first seen, in days.
func (tl *timeline) lastAct() float64 {
	if n := len(tl.acts); n > 0 {
		return tl.acts[n-1].t
	}
	return tl.points[0].t
}

// wholeWindings returns the rate since the last act as it is from winding to winding.
// Checks over a part of that time have seen the spring more wound, or less, than it is on
// the mean.
func (tl *timeline) wholeWindings(rate quantity.Value) quantity.Value {
	begin := tl.lastAct()
	hours := sinceWinding(tl.wound, tl.points[len(tl.points)-1].t)
	seen, days := 0.0, 0.0
	for from, to := range tl.stretches() {
		s, d := hours.over(max(from.t, begin), to.t)
		seen, days = seen+s, days+d
	}
	whole, all := hours.over(tl.wound[0], tl.wound[len(tl.wound)-1])
	if !(days > 0 && all > 0) {
		return rate
	}
	off, per := whole/all-seen/days, tl.runDown.per
	return quantity.Value{V: rate.V + off*per.V, U: math.Hypot(rate.U, off*per.U), K: max(rate.K, per.K)}
}
