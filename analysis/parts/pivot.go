package parts

import (
	"cmp"
	"fmt"
	"math"

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
	Step                float64 // coarsest of the shoulder's and the tip's readings, metres
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
		v, err := propagate("taper", less, p.Shoulder, p.Tip)
		if err != nil {
			return Result{}, err
		}
		// One instrument's error drops out of the difference, but not the steps of two readings.
		if two := p.Step / math.Sqrt(6); two > v.U {
			v.U, v.K = two, 0
		}
		low, high := -p.Limits.Taper, p.Limits.Taper
		r.add(Figure{Name: "taper of the pivot", Value: v, Unit: "m", Low: &low, High: &high, Source: noSource})
		switch {
		case v.Covers(0):
			r.say("No taper of the pivot can be told: shoulder less tip is " + p.Units.Length(v) + ".")
		case v.V < 0:
			r.say("The pivot is " + p.Units.Length(v.Scale(-1)) + " thinner at the shoulder than at the tip.")
		default:
			r.say("The pivot is " + p.Units.Length(v) + " thicker at the shoulder than at the tip.")
		}
	}
	r.span("out of round of the hole", "hole", p.HoleSpan, p)
	r.span("out of round of the pivot", "pivot", p.PivotSpan, p)
	if err := r.lengthwise(p); err != nil {
		return Result{}, err
	}
	r.judge(complete)
	r.pivotNext()
	return r, nil
}

func less(x []float64) float64 { return x[0] - x[1] }

// lengthwise says how far the arbor can lean in this hole, by the clearance over the length
// of pivot that lies in it, and what the pivot's length leaves for end shake.
func (r *Result) lengthwise(p Pivot) error {
	held := p.Reach
	if held == nil || p.Plate != nil && p.Plate.V < held.V {
		held = p.Plate
	}
	if held != nil && p.Hole != nil && p.Shoulder != nil && p.Hole.V > p.Shoulder.V {
		v, err := propagate("lean", func(x []float64) float64 { return math.Atan((x[0]-x[1])/x[2]) * 180 / math.Pi }, p.Hole, p.Shoulder, held)
		if err != nil {
			return err
		}
		r.Figures = append(r.Figures, Figure{Name: "lean in the hole", Value: v, Unit: "°"})
		r.say(fmt.Sprintf("With that clearance the pivot can lean by %s° in its hole.", v.Text("")))
	}
	if p.Reach == nil || p.Plate == nil {
		return nil
	}
	v, err := propagate("beyond the plate", less, p.Reach, p.Plate)
	if err != nil {
		return err
	}
	r.Figures = append(r.Figures, Figure{Name: "pivot longer than the plate", Value: v, Unit: "m"})
	switch is := fmt.Sprintf("The pivot is %s longer than the plate is thick", p.Units.Length(v)); {
	case v.Covers(0):
		r.say(is + ", so whether it reaches through the plate can't be told.")
	case v.V > 0:
		r.say(is + ". With more end shake than that, the end of the pivot goes below the face of the plate.")
	default:
		r.say(fmt.Sprintf("The pivot is %s shorter than the plate is thick. That is as it should be only where an end plate or a sink meets it.", p.Units.Length(v.Scale(-1))))
	}
	return nil
}

func (r *Result) clearance(p Pivot) error {
	gap, err := propagate("clearance", less, p.Hole, p.Shoulder)
	if err != nil {
		return err
	}
	share, err := propagate("clearance", func(x []float64) float64 { return x[0]/x[1] - 1 }, p.Hole, p.Shoulder)
	if err != nil {
		return err
	}
	r.Figures = append(r.Figures, Figure{Name: "clearance", Value: gap, Unit: "m"})
	r.add(Figure{Name: "clearance over pivot", Value: share, Low: &p.Limits.ClearanceLow, High: &p.Limits.ClearanceHigh, Source: noSource})
	r.say(fmt.Sprintf("The pivot has %s of clearance, %s of its diameter; %g to %g %% is usual (%s).",
		p.Units.Length(gap), share.Scale(100).Text("%"), 100*p.Limits.ClearanceLow, 100*p.Limits.ClearanceHigh, noSource))
	return nil
}

func (r *Result) span(name, what string, q *uncertainty.Quantity, p Pivot) {
	if q == nil {
		return
	}
	v := q.Value()
	r.add(Figure{Name: name, Value: v, Unit: "m", High: &p.Limits.OutOfRound, Source: noSource})
	if v.High95() <= p.Limits.OutOfRound && v.Covers(0) {
		r.say(fmt.Sprintf("The %s is round, as far as these readings tell.", what))
		return
	}
	r.say(fmt.Sprintf("Diameters across the %s differ by %s.", what, p.Units.Length(v)))
}

// short are names of figures for the middle of a sentence.
var short = map[string]string{"clearance over pivot": "clearance", "out of round of the hole": "roundness of the hole", "out of round of the pivot": "roundness of the pivot"}

// pivotNext says what to do about each bad or undecided figure. What decides the verdict,
// a bad one, comes first.
func (r *Result) pivotNext() {
	var unclear []string
	for _, f := range r.Figures {
		switch {
		case f.Verdict == CannotTell:
			unclear = append(unclear, "Measure again with a micrometer and pin gauges: the "+cmp.Or(short[f.Name], f.Name)+" lies too near its limit to tell.")
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
	r.Next = append(r.Next, unclear...)
}
