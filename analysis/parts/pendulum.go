package parts

import (
	"fmt"
	"math"

	"evenbeat/analysis/pendulum"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// PendulumLimit is how far, as a share, a pendulum measured from its suspension to the
// middle of the bob may be from the length for its train. A heavy rod raises the centre
// of oscillation by a few per cent. Common practice, no source.
const PendulumLimit = 0.05

// Pendulum is a pendulum and the beat of its train.
type Pendulum struct {
	Length  *uncertainty.Quantity // from where the suspension bends to the bob's middle, metres
	Bob     *uncertainty.Quantity // diameter, metres; nil where not known
	Beat    float64               // seconds, by the train; 0 where not known
	Gravity quantity.Value        // m/s²
	Units   quantity.System
}

// PendulumToTrain compares a measured pendulum with the length for its train. The bob is
// taken as a ball (see pendulum.BallCentre). The rod's weight, which raises the centre of
// oscillation, is left to the limit. The error is a *quantity.InputError.
func PendulumToTrain(p Pendulum) (Result, error) {
	r := found("pendulum and train",
		"Hold the bob while the nut is turned, and take a heavy bob off before the clock is moved: a suspension spring bends once and is spoilt.")
	r.Verdict = CannotTell
	if err := check(p.Units, size{"length", p.Length}, size{"bob", p.Bob}); err != nil {
		return Result{}, err
	}
	if p.Bob != nil && p.Length != nil && p.Bob.V >= 2*p.Length.V {
		return Result{}, quantity.BadInput("bob", p.Units.Size(p.Bob.V, 2), "must be smaller than twice the pendulum's length: is it the diameter?")
	}
	if p.Beat == 0 {
		r.Next = append(r.Next, "Give the train or the beats an hour of the clock.")
	}
	if r.missing(p.Length, "the pendulum from where the suspension bends to the middle of the bob") || p.Beat == 0 {
		return r, nil
	}
	asked, err := pendulum.Length(p.Beat, p.Gravity)
	if err != nil {
		return Result{}, quantity.BadInput("beat", fmt.Sprintf("%g s", p.Beat), "and gravity must be positive numbers")
	}
	bob := uncertainty.Exact("bob", 0)
	if p.Bob != nil {
		bob = *p.Bob
	}
	want := uncertainty.Quantity{Name: "length asked for", V: asked.V, Sources: []uncertainty.Source{{U: asked.U, Cause: uncertainty.CauseAssumed}}}
	effective := func(x []float64) float64 { return pendulum.BallCentre(x[0], x[1]/2) }
	has, err := propagate("effective length", effective, p.Length, &bob, &want)
	if err != nil {
		return Result{}, err
	}
	share, err := propagate("length", func(x []float64) float64 { return effective(x)/x[2] - 1 }, p.Length, &bob, &want)
	if err != nil {
		return Result{}, err
	}
	low, high := -PendulumLimit, PendulumLimit
	r.Figures = []Figure{{Name: "length asked for", Value: asked, Unit: "m"}, {Name: "effective length", Value: has, Unit: "m"}}
	r.add(Figure{Name: "length over asked for, less one", Value: share, Low: &low, High: &high, Source: noSource})
	r.judge(true)
	r.pendulumWords(p, asked, has)
	return r, nil
}

func (r *Result) pendulumWords(p Pendulum, asked, has quantity.Value) {
	r.Reasons = append(r.Reasons, fmt.Sprintf("The train asks for a pendulum of %s; this one has about %s without its rod's weight.", p.Units.Length(asked), p.Units.Length(has)))
	side := "longer: the clock would lose"
	if has.V < asked.V {
		side = "shorter: the clock would gain"
	}
	rate := 86400 * math.Abs(math.Sqrt(asked.V/has.V)-1)
	switch r.Verdict {
	case Good:
		r.Reasons = append(r.Reasons, "That is near enough for the rating nut and the rod's own weight.")
		r.Next = append(r.Next, "Time it, and let the rate say what to turn.")
	case Bad:
		r.Reasons = append(r.Reasons, fmt.Sprintf("It is %s, by about %.2g min/day. It is not this clock's pendulum, or the train is not as noted.", side, rate/60))
		r.Next = append(r.Next, "Count the wheels again before the pendulum is changed.")
	default:
		r.Next = append(r.Next, "Measure the length again, hung up and at rest.")
	}
}
