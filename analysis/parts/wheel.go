package parts

import (
	"fmt"
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// WheelLimits are the limits for a wheel and its pinion. The usual ones are common
// practice, no source.
type WheelLimits struct {
	ModuleApart float64 // most by which the modules may differ, as a share
}

// Tips project beyond the pitch circle by about 1.35 modules on a wheel and 0.8 on a
// pinion of cycloidal form (from memory). That real ones differ by ±0.15 is common
// practice, no source.
const (
	wheelAddendum, pinionAddendum, addendumLimit = 1.35, 0.8, 0.15
)

// Wheel is a wheel and the pinion it drives; metres and counts, nil where not known.
type Wheel struct {
	Over       *uncertainty.Quantity // wheel over the tips
	Teeth      int64
	PinionOver *uncertainty.Quantity
	Leaves     int64
	Centres    *uncertainty.Quantity // between the pivot holes
	Limits     WheelLimits
	Units      quantity.System
}

// WheelAndPinion finds the modules of wheel and pinion from their diameters over the
// tips, module = diameter / (teeth + 2·addendum), and the distance of centres that
// they ask for, module·(teeth + leaves)/2 by the wheel. The error is a *quantity.InputError.
func WheelAndPinion(w Wheel) (Result, error) {
	r := found("wheel and pinion", power)
	if err := check(w.Units, size{"wheel", w.Over}, size{"pinion", w.PinionOver}, size{"centres", w.Centres}); err != nil {
		return Result{}, err
	}
	if w.Teeth < 0 || w.Leaves < 0 || w.Teeth > quantity.MaxCounted || w.Leaves > quantity.MaxCounted {
		return Result{}, quantity.BadInput("teeth or leaves", fmt.Sprintf("%d, %d", w.Teeth, w.Leaves), fmt.Sprintf("must be counts from 1 to %g", float64(quantity.MaxCounted)))
	}
	complete := !r.missing(w.Over, "the wheel over the tips of its teeth")
	complete = !r.missing(w.PinionOver, "the pinion over the tips of its leaves") && complete
	if w.Teeth == 0 || w.Leaves == 0 {
		complete = false
		r.Next = append(r.Next, "Count the teeth of the wheel and the leaves of the pinion.")
	}
	if !complete {
		r.Verdict = CannotTell
		return r, nil
	}
	wheelTip := uncertainty.Limit("addendum of the wheel", wheelAddendum, addendumLimit, "", uncertainty.CauseAssumed)
	pinionTip := uncertainty.Limit("addendum of the pinion", pinionAddendum, addendumLimit, "", uncertainty.CauseAssumed)
	n, p := float64(w.Teeth), float64(w.Leaves)
	wheel := func(x []float64) float64 { return x[0] / (n + 2*x[1]) }
	pinion := func(x []float64) float64 { return x[2] / (p + 2*x[3]) }
	in := []*uncertainty.Quantity{w.Over, &wheelTip, w.PinionOver, &pinionTip}
	for _, m := range []struct {
		name string
		f    func([]float64) float64
	}{{"module of the wheel", wheel}, {"module of the pinion", pinion}} {
		v, err := propagate(m.name, m.f, in...)
		if err != nil {
			return Result{}, err
		}
		r.Figures = append(r.Figures, Figure{Name: m.name, Value: v, Unit: "m", Source: "addenda from memory"})
		r.say(fmt.Sprintf("The %s is %s.", m.name, w.Units.Length(v)))
	}
	apart, err := propagate("modules apart", func(x []float64) float64 { return pinion(x)/wheel(x) - 1 }, in...)
	if err != nil {
		return Result{}, err
	}
	low, high := -w.Limits.ModuleApart, w.Limits.ModuleApart
	r.add(Figure{Name: "modules apart", Value: apart, Low: &low, High: &high, Source: noSource})
	differ := fmt.Sprintf("The two modules differ by %s, and may differ by %g %%", apart.Scale(100).Text("%"), 100*w.Limits.ModuleApart)
	switch r.Figures[len(r.Figures)-1].Verdict {
	case Bad:
		r.say(differ + ": wheel and pinion don't belong together, or the teeth were miscounted.")
	case CannotTell:
		r.say(differ + ": whether they belong together can't be told.")
	}
	if err := r.centres(w, in, wheel); err != nil {
		return Result{}, err
	}
	r.judge(true)
	if r.Verdict != Good {
		r.Next = append(r.Next, "Try the pair in a depthing tool: the run of the teeth tells more than diameters do.")
	}
	return r, nil
}

// centres compares the distance of the pivot holes with that for the wheel.
func (r *Result) centres(w Wheel, in []*uncertainty.Quantity, wheel func([]float64) float64) error {
	n := float64(w.Teeth + w.Leaves)
	want, err := propagate("distance of centres", func(x []float64) float64 { return wheel(x) * n / 2 }, in...)
	if err != nil {
		return err
	}
	r.Figures = append(r.Figures, Figure{Name: "distance of centres asked for", Value: want, Unit: "m"})
	r.say(fmt.Sprintf("By the size of the teeth the centres should be %s apart.", w.Units.Length(want)))
	if w.Centres == nil {
		return nil
	}
	d, err := propagate("depth", func(x []float64) float64 { return x[4] - wheel(x)*n/2 }, append(in, w.Centres)...)
	if err != nil {
		return err
	}
	r.Figures = append(r.Figures, Figure{Name: "centres measured less asked for", Value: d, Unit: "m"})
	switch {
	case math.Abs(d.V) <= d.Half95():
		r.say("The holes are that far apart, within the uncertainty.")
	case d.V > 0:
		r.say(fmt.Sprintf("The holes are %s further apart. The depth is too shallow: the teeth butt and may skip. Worn holes do that too.", w.Units.Length(d)))
	default:
		d.V = -d.V
		r.say(fmt.Sprintf("The holes are %s closer together. The depth is too deep: the teeth rub at the roots.", w.Units.Length(d)))
	}
	return nil
}
