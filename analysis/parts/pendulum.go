package parts

import (
	"fmt"
	"math"
	"slices"

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
	Threads *uncertainty.Quantity // along ten threads of the rating nut's screw, metres; nil where not measured
	Pitch   float64               // of that screw, metres, where Threads aren't known; 0 for neither
	Units   quantity.System
}

// PendulumToTrain compares a measured pendulum with the length for its train. The bob is
// taken as a ball (see pendulum.BallCentre). The rod's weight, which raises the centre of
// oscillation, is left to the limit. The error is a *quantity.InputError.
func PendulumToTrain(p Pendulum) (Result, error) {
	r := found("pendulum and train",
		"Hold the bob while the nut is turned, and take a heavy bob off before the clock is moved: a suspension spring bends once and is spoilt.")
	r.Verdict = CannotTell
	if err := check(p.Units, size{"length", p.Length}, size{"bob", p.Bob}, size{"ten threads", p.Threads}); err != nil {
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
	rate, err := propagate("rate", func(x []float64) float64 { return 86400 * (math.Sqrt(x[2]/effective(x)) - 1) }, p.Length, &bob, &want)
	if err != nil {
		return Result{}, err
	}
	over, err := propagate("over", func(x []float64) float64 { return effective(x) - x[2] }, p.Length, &bob, &want)
	if err != nil {
		return Result{}, err
	}
	low, high := -PendulumLimit, PendulumLimit
	r.Figures = []Figure{{Name: "length asked for", Value: asked, Unit: "m"}, {Name: "effective length", Value: has, Unit: "m"}}
	r.add(Figure{Name: "length over asked for, less one", Value: share, Low: &low, High: &high, Source: noSource})
	r.Figures = append(r.Figures, Figure{Name: "rate by this length (+ gains)", Value: rate, Unit: perDay})
	r.judge(true)
	r.pendulumWords(p, asked, has, over, rate)
	return r, nil
}

func (r *Result) pendulumWords(p Pendulum, asked, has, over, rate quantity.Value) {
	r.Reasons = append(r.Reasons, fmt.Sprintf("The train needs a pendulum of %s. This one is about %s long, the weight of its rod left out.", p.Units.Length(asked), p.Units.Length(has)))
	side := "longer: the clock would lose"
	if has.V < asked.V {
		side = "shorter: the clock would gain"
	}
	switch r.Verdict {
	case Good:
		r.nut(p, over, rate)
	case Bad:
		r.Reasons = append(r.Reasons, fmt.Sprintf("It is %s about %.2g min/day. It is not this clock's pendulum, or the train is not as noted.", side, math.Abs(rate.V)/60))
		r.Next = append(r.Next, "Count the wheels again before the pendulum is changed.")
	default:
		r.Next = append(r.Next, "Measure the length again, hung up and at rest.")
	}
	if r.Verdict != Good {
		r.Matters = slices.Clone(r.Reasons)
	}
}

const perDay = "s/day"

// turnsKnown are those of the thread that was measured.
const turnsKnown = 10

// nut says what a pendulum that is near enough does to the rate, and whether its nut makes
// it up. over is how much longer than asked for it is, in metres.
func (r *Result) nut(p Pendulum, over, rate quantity.Value) {
	if rate.Covers(0) {
		r.Reasons = append(r.Reasons, "That is as long as it should be, within what is known. The weight of the rod does more.")
		r.Next = append(r.Next, "Time it, and let the rate say what to turn.")
		return
	}
	way := "up"
	if rate.V > 0 {
		way = "down"
	}
	r.Reasons = append(r.Reasons, fmt.Sprintf("By this length alone the clock would %s. The weight of the rod, which is left out here, makes a clock gain.", rate.GainText("gain", "lose")))
	pitch, known := p.Pitch, 0.0
	if p.Threads != nil {
		pitch, known = p.Threads.V/turnsKnown, p.Threads.V
	}
	if over.V < 0 {
		over.V = -over.V
	}
	move := p.Units.Length(over)
	if pitch == 0 {
		r.Next = append(r.Next, fmt.Sprintf("See that the thread of the nut reaches %s %s, then time the clock and let the rate say what to turn.", move, way))
		return
	}
	reach := "See that the thread is long enough for that"
	if over.V <= known {
		reach = "The ten threads that were measured are enough for that, if they are free on that side"
	}
	r.Next = append(r.Next, fmt.Sprintf("Turn the nut %s by %s, which is %s, then time the clock. %s.", way, over.Scale(1/pitch).Text("turns"), move, reach))
}
