// Package weight finds how long a weight-driven clock goes, from its drum, its line and
// the fall of its weight.
package weight

import (
	"fmt"
	"math"

	"evenbeat/analysis/spring"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Input is a drum and its weight. Lengths are in metres.
type Input struct {
	Drum, Line *uncertainty.Quantity // diameters; the line's may be nil for a thin one
	Fall       *uncertainty.Quantity // how far the weight can go down
	Mass       *uncertainty.Quantity // kg; nil where not known
	Parts      int64                 // parts of line that carry the weight: 1, or 2 with a pulley
	TurnHours  float64               // hours in which the drum turns once
}

// Result is the answer about the weight.
type Result struct {
	Turns      quantity.Value  `json:"turns"`                 // of the drum
	GoingHours *quantity.Value `json:"going_hours,omitempty"` // on one winding; absent where the time of a turn isn't known
	Runs       []spring.Run    `json:"runs,omitempty"`
	Torque     *quantity.Value `json:"torque_nm,omitempty"` // at the drum, the same all along
	Energy     *quantity.Value `json:"energy_j,omitempty"`  // that the weight gives as it goes down
	Reasons    []string        `json:"reasons"`
	Cautions   []string        `json:"cautions"`
}

// gravityLimit, in m/s², is how far a place's own gravity may be from the standard one:
// 0.3 %.
const gravityLimit = 0.026

// Going returns turns and hours:
//
//	turns = parts · fall / (π · (drum + line))
//
// the line lying on the drum in one layer, its middle at (drum + line)/2 from the
// axis. With a mass, torque m·g·(drum + line)/(2·parts) and energy m·g·fall.
// Source: geometry. The error is a *quantity.InputError.
func Going(in Input) (Result, error) {
	if err := in.check(); err != nil {
		return Result{}, err
	}
	line := uncertainty.Exact("line", 0)
	if in.Line != nil {
		line = *in.Line
	}
	mass := uncertainty.Exact("mass", 0)
	if in.Mass != nil {
		mass = *in.Mass
	}
	parts := float64(in.Parts)
	base := []uncertainty.Quantity{*in.Drum, line, *in.Fall, mass, uncertainty.Limit("gravity", quantity.StandardGravity, gravityLimit, "", uncertainty.CauseAssumed)}
	var failed error
	value := func(name string, f func(x []float64) float64) quantity.Value {
		q, err := uncertainty.Propagate(name, base, f)
		if err != nil {
			failed = err
			return quantity.Value{}
		}
		return q.Value()
	}
	r := Result{Turns: value("turns", func(x []float64) float64 { return parts * x[2] / (math.Pi * (x[0] + x[1])) })}
	r.Reasons = append(r.Reasons, fmt.Sprintf("The line gives the drum %s.", r.Turns.Text("turns")))
	if in.TurnHours > 0 {
		g := r.Turns.Scale(in.TurnHours)
		r.GoingHours = &g
		r.Reasons = append(r.Reasons, fmt.Sprintf("The drum turns once in %s: the clock goes %s on one winding.", quantity.SpanWords(in.TurnHours*3600), g.Text("h")))
		r.Runs = spring.Runs(r.Turns, in.TurnHours)
	}
	r.Cautions = []string{"Hold the weight while a line is changed or wound, keep yourself and others out from under it, and check the line for broken strands first. Local rules and trained practice come first."}
	if in.Mass != nil {
		torque := value("torque", func(x []float64) float64 { return x[3] * x[4] * (x[0] + x[1]) / (2 * parts) })
		energy := value("energy", func(x []float64) float64 { return x[3] * x[4] * x[2] })
		r.Torque, r.Energy = &torque, &energy
		r.Reasons = append(r.Reasons, fmt.Sprintf("It turns the drum with %s, the same from top to bottom.", torque.Text("N·m")))
		r.Cautions = append(r.Cautions, fmt.Sprintf("Wound up, the weight holds about %.2g J.", energy.V))
	}
	return r, failed
}

func (in Input) check() error {
	for _, c := range []struct {
		name string
		q    *uncertainty.Quantity
		most float64
		need bool
	}{{"drum", in.Drum, 100, true}, {"fall", in.Fall, 1000, true}, {"line", in.Line, 1, false}, {"mass", in.Mass, 1e5, false}} {
		if c.q == nil {
			if c.need {
				return quantity.BadInput(c.name, "", "is not known: measure it")
			}
			continue
		}
		if !(c.q.V >= 1e-6 && c.q.V <= c.most) || !(c.q.U() <= c.most) {
			return quantity.BadInput(c.name, c.q.V, "must be greater than zero, and a size that such a part can have")
		}
	}
	switch {
	case in.Parts < 1 || in.Parts > 16:
		return quantity.BadInput("parts of line", in.Parts, "must be 1 (no pulley) to 16; with one pulley 2")
	case in.TurnHours != 0 && !(in.TurnHours >= 1e-3 && in.TurnHours <= 1e6):
		return quantity.BadInput("turn of the drum", fmt.Sprintf("%g h", in.TurnHours), "must be a positive number of hours")
	}
	return nil
}
