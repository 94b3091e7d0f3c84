package parts

import (
	"fmt"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// PivotLimits are the limits for a pivot in its bush. The usual ones are common practice,
// no source.
type PivotLimits struct {
	ClearanceLow, ClearanceHigh float64 // share of the pivot's diameter
	OutOfRound                  float64 // metres: most that diameters across may differ
	Taper                       float64 // metres: most between shoulder and tip
}

// Pivot is a pivot and the hole it runs in; metres, nil where not known.
type Pivot struct {
	Shoulder, Tip *uncertainty.Quantity // diameters
	Reach         *uncertainty.Quantity // length of the pivot
	Hole          *uncertainty.Quantity // mean diameter
	Plate         *uncertainty.Quantity // thickness at the hole
	// HoleSpan and PivotSpan are the greatest less the least diameter read across,
	// with what is known of a difference of two readings; nil for a single reading.
	HoleSpan, PivotSpan *uncertainty.Quantity
	Limits              PivotLimits
	Units               quantity.System
}

// PivotInBush judges the clearance of a pivot in its hole, the roundness of both and
// the taper of the pivot. The clearance is the mean hole less the pivot at its
// shoulder, as a share of the pivot. The error is a *quantity.InputError.
func PivotInBush(p Pivot) (Result, error) {
	r := found("pivot in its bush", power)
	if err := check(p.Units, size{"shoulder", p.Shoulder}, size{"tip", p.Tip}, size{"reach", p.Reach},
		size{"hole", p.Hole}, size{"plate", p.Plate}); err != nil {
		return Result{}, err
	}
	complete := true
	if r.missing(p.Shoulder, "the pivot close to its shoulder, twice at right angles") || r.missing(p.Hole, "the hole, along the wear and across it") {
		complete = false
	} else if err := r.clearance(p); err != nil {
		return Result{}, err
	}
	if p.Shoulder != nil && p.Tip != nil {
		v, err := propagate("taper", func(x []float64) float64 { return x[0] - x[1] }, p.Shoulder, p.Tip)
		if err != nil {
			return Result{}, err
		}
		low, high := -p.Limits.Taper, p.Limits.Taper
		r.add(Figure{Name: "taper of the pivot", Value: v, Unit: "m", Low: &low, High: &high, Source: noSource})
		r.Reasons = append(r.Reasons, fmt.Sprintf("The pivot is %s thicker at the shoulder than at the tip.", p.Units.Length(v)))
	}
	r.span("out of round of the hole", "hole", p.HoleSpan, p)
	r.span("out of round of the pivot", "pivot", p.PivotSpan, p)
	if p.Reach != nil && p.Plate != nil && p.Reach.V < p.Plate.V {
		r.Reasons = append(r.Reasons, "The pivot is shorter than the plate is thick; that is as it should be only where an end plate or a sink meets it.")
	}
	r.judge(complete)
	r.pivotNext()
	return r, nil
}

func (r *Result) clearance(p Pivot) error {
	gap, err := propagate("clearance", func(x []float64) float64 { return x[0] - x[1] }, p.Hole, p.Shoulder)
	if err != nil {
		return err
	}
	share, err := propagate("clearance", func(x []float64) float64 { return x[0]/x[1] - 1 }, p.Hole, p.Shoulder)
	if err != nil {
		return err
	}
	r.Figures = append(r.Figures, Figure{Name: "clearance", Value: gap, Unit: "m"})
	r.add(Figure{Name: "clearance over pivot", Value: share, Low: &p.Limits.ClearanceLow, High: &p.Limits.ClearanceHigh, Source: noSource})
	r.Reasons = append(r.Reasons, fmt.Sprintf("The pivot has %s of clearance, %s of its diameter; %g to %g %% is usual (%s).",
		p.Units.Length(gap), share.Scale(100).Text("%"), 100*p.Limits.ClearanceLow, 100*p.Limits.ClearanceHigh, noSource))
	return nil
}

func (r *Result) span(name, what string, q *uncertainty.Quantity, p Pivot) {
	if q == nil {
		return
	}
	v := q.Value()
	r.add(Figure{Name: name, Value: v, Unit: "m", High: &p.Limits.OutOfRound, Source: noSource})
	r.Reasons = append(r.Reasons, fmt.Sprintf("Diameters across the %s differ by %s.", what, p.Units.Length(v)))
}

// pivotNext says what to do about each bad or undecided figure.
func (r *Result) pivotNext() {
	for _, f := range r.Figures {
		switch {
		case f.Verdict == CannotTell:
			r.Next = append(r.Next, "Measure again with a micrometer and pin gauges: the "+f.Name+" lies too near its limit to tell.")
		case f.Verdict != Bad:
		case f.Name == "out of round of the hole":
			r.Next = append(r.Next, "Bush the hole, on its old centre and not on the middle of the worn oval.")
		case f.Name == "clearance over pivot" && f.Value.V > *f.High:
			r.Next = append(r.Next, "Bush the hole to the pivot, once the pivot is true and polished.")
		case f.Name == "clearance over pivot":
			r.Next = append(r.Next, "Open the hole with a smoothing broach until the arbor drops of its own weight.")
		default:
			r.Next = append(r.Next, "True and polish the pivot first, then measure the clearance again.")
		}
	}
}
