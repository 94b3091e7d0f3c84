package analysis

import (
	"math"

	"evenbeat/analysis/parts"
	"evenbeat/analysis/pendulum"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// PartsOptions is what the record doesn't hold of pivots, wheels and pendulums.
type PartsOptions struct {
	Pivot      parts.PivotLimits
	Wheel      parts.WheelLimits
	Gravity    quantity.Value // m/s² where the clock stands; zero = not known
	Units      quantity.System
	TypedLimit float64 // as in SpringOptions
}

func (o PartsOptions) gather(rec sessions.Record, f sessions.Finding, part string) *gathering {
	return &gathering{rec: rec, finding: f, part: part, o: SpringOptions{Units: o.Units, TypedLimit: o.TypedLimit}}
}

// fill takes dimensions out of the record; nil for what it doesn't hold.
func (g *gathering) fill(to map[string]**uncertainty.Quantity) error {
	for name, q := range to {
		var err error
		if *q, err = g.dimension(name, nil); err != nil {
			return err
		}
	}
	return nil
}

// span is the greatest less the least reading of a dimension that was read across at
// several angles; nil for fewer than two. Both readings have the display's
// resolution, and the instrument's own error drops out.
func (g *gathering) span(name string) *uncertainty.Quantity {
	sets := g.sets(name)
	if len(sets) == 0 || len(sets[0]) < 2 {
		return nil
	}
	readings := sets[0]
	values := make([]float64, len(readings))
	for i, r := range readings {
		values[i] = r.Value
	}
	u := g.step(name) / math.Sqrt(6) // two readings, step/√12 each
	return &uncertainty.Quantity{Name: name + ", span", V: uncertainty.Span(values), Sources: []uncertainty.Source{{U: u, Cause: uncertainty.CauseResolution}}}
}

// step is the coarsest step of the readings that span takes; 0 for none.
func (g *gathering) step(name string) float64 {
	sets := g.sets(name)
	if len(sets) == 0 {
		return 0
	}
	var step float64
	for _, r := range sets[0] {
		step = max(step, r.Step)
	}
	return step
}

// Pivot judges a pivot in its bush from what the plans pivot and bushing measured of
// the two parts.
func Pivot(rec sessions.Record, pivotPart, bushPart string, o PartsOptions) (parts.Result, error) {
	p := parts.Pivot{Limits: o.Pivot, Units: o.Units}
	pivot, bush := o.gather(rec, sessions.PivotFinding, pivotPart), o.gather(rec, sessions.PivotFinding, bushPart)
	if err := pivot.fill(map[string]**uncertainty.Quantity{"shoulder": &p.Shoulder, "tip": &p.Tip, "reach": &p.Reach}); err != nil {
		return parts.Result{}, err
	}
	if err := bush.fill(map[string]**uncertainty.Quantity{"hole": &p.Hole, "plate": &p.Plate}); err != nil {
		return parts.Result{}, err
	}
	p.Step = max(pivot.step("shoulder"), pivot.step("tip"))
	p.PivotSpan, p.HoleSpan = pivot.span("shoulder"), bush.span("hole")
	r, err := parts.PivotInBush(p)
	if err != nil {
		return parts.Result{}, err
	}
	for note := range bush.notes { // what holds for both is told once
		pivot.note(note)
	}
	r.Reasons = append(r.Reasons, pivot.told()...)
	return r, nil
}

// Wheel judges a wheel and the pinion it drives from what the plan wheel measured of
// a part.
func Wheel(rec sessions.Record, part string, o PartsOptions) (parts.Result, error) {
	w := parts.Wheel{Limits: o.Wheel, Units: o.Units}
	var teeth, leaves *uncertainty.Quantity
	g := o.gather(rec, sessions.WheelFinding, part)
	if err := g.fill(map[string]**uncertainty.Quantity{
		"wheel": &w.Over, "pinion": &w.PinionOver, "centres": &w.Centres, "teeth": &teeth, "leaves": &leaves,
	}); err != nil {
		return parts.Result{}, err
	}
	w.Teeth, w.Leaves = counted(teeth), counted(leaves)
	r, err := parts.WheelAndPinion(w)
	if err != nil {
		return parts.Result{}, err
	}
	r.Reasons = append(r.Reasons, g.told()...)
	return r, nil
}

// counted rounds a count of teeth; 0 where it isn't known, −1 where it is none.
func counted(q *uncertainty.Quantity) int64 {
	switch {
	case q == nil:
		return 0
	case !(q.V >= 1 && q.V <= 1e4):
		return -1
	}
	return int64(math.Round(q.V))
}

func (o PartsOptions) gravity() quantity.Value {
	if o.Gravity.V == 0 {
		return pendulum.GravityAnywhere()
	}
	return o.Gravity
}

// Pendulum judges a pendulum against the clock's train from what the plan pendulum
// measured of a part.
func Pendulum(rec sessions.Record, part string, o PartsOptions) (parts.Result, error) {
	c, err := Clock(rec, ClockOptions{Gravity: o.Gravity})
	if err != nil {
		return parts.Result{}, err
	}
	p := parts.Pendulum{Beat: c.IntervalS, Gravity: o.gravity(), Pitch: rec.Clock.NutPitch, Units: o.Units}
	g := o.gather(rec, sessions.PendulumFinding, part)
	if err := g.fill(map[string]**uncertainty.Quantity{"length": &p.Length, "bob": &p.Bob, "ten-threads": &p.Threads}); err != nil {
		return parts.Result{}, err
	}
	r, err := parts.PendulumToTrain(p)
	if err != nil {
		return parts.Result{}, err
	}
	r.Reasons = append(r.Reasons, g.told()...)
	return r, nil
}
