// Package parts judges how parts of a movement suit one another: a pivot in its bush,
// a wheel and the pinion it drives, a pendulum and its train. Each answer holds
// figures with their uncertainty against limits that come from outside.
package parts

import (
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Verdict on a part.
type Verdict string

// The verdicts: every figure within its limits, one certainly beyond, or undecided by
// these measurements.
const (
	Good       Verdict = "good"
	Bad        Verdict = "not good"
	CannotTell Verdict = "cannot tell"
)

// Figure is one figure with the limits it is held against.
type Figure struct {
	Name    string         `json:"name"`              // what it is a figure of
	Value   quantity.Value `json:"value"`             // in the unit that unit names
	Unit    string         `json:"unit"`              // m, °, s/day, or "" for a share
	Low     *float64       `json:"low,omitempty"`     // lower limit
	High    *float64       `json:"high,omitempty"`    // upper limit
	Verdict Verdict        `json:"verdict,omitempty"` // none where there are no limits
	Source  string         `json:"source,omitempty"`  // of the limits
}

// Result is the answer about a part, or two that work together.
type Result struct {
	What     string   `json:"what"`           // what was judged, in words
	Part     string   `json:"part,omitempty"` // as the record names it
	Verdict  Verdict  `json:"verdict"`
	Figures  []Figure `json:"figures,omitempty"`
	Reasons  []string `json:"reasons"`
	Matters  []string `json:"-"` // of the reasons, those that say what is amiss or in doubt
	Cautions []string `json:"cautions"`
	Next     []string `json:"next"`
}

// found begins a result. Its lists are never nil: JSON would show a null.
func found(what, caution string) Result {
	return Result{What: what, Reasons: []string{}, Cautions: []string{caution}, Next: []string{}}
}

const noSource = "common practice, no source"

// power is the caution wherever a train is opened.
const power = "Take the power off the train before anything is lifted out: mainspring let down fully, or weights off. Local rules and trained practice come first."

// add appends a figure; limits are nil where there is none on that side.
func (r *Result) add(f Figure) {
	f.Verdict = within(f.Value, f.Low, f.High)
	r.Figures = append(r.Figures, f)
}

// say adds what is to be said of the figure that was added last.
func (r *Result) say(text string) {
	r.Reasons = append(r.Reasons, text)
	if v := r.Figures[len(r.Figures)-1].Verdict; v == Bad || v == CannotTell {
		r.Matters = append(r.Matters, text)
	}
}

func within(v quantity.Value, low, high *float64) Verdict {
	if low == nil && high == nil {
		return ""
	}
	out := Good
	if low != nil && v.Low95() < *low || high != nil && v.High95() > *high {
		out = CannotTell
	}
	if low != nil && v.High95() < *low || high != nil && v.Low95() > *high {
		out = Bad
	}
	return out
}

// judge derives the verdict from the figures'. A single bad one makes it bad, and an
// undecided one leaves it undecided.
func (r *Result) judge(complete bool) {
	r.Verdict = Good
	for _, f := range r.Figures {
		if f.Verdict == Bad {
			r.Verdict = Bad
			return
		}
		if f.Verdict == CannotTell {
			r.Verdict = CannotTell
		}
	}
	if !complete {
		r.Verdict = CannotTell
	}
}

// size is a named length.
type size struct {
	name string
	q    *uncertainty.Quantity
}

func check(u quantity.System, sizes ...size) error {
	for _, s := range sizes {
		if s.q != nil && !(s.q.V >= quantity.MinLength && s.q.V <= quantity.MaxLength && s.q.U() <= quantity.MaxLength) {
			return quantity.BadInput(s.name, u.Size(s.q.V, 3), "must be greater than zero, and a size that such a part can have")
		}
	}
	return nil
}

func propagate(name string, f func(x []float64) float64, in ...*uncertainty.Quantity) (quantity.Value, error) {
	list := make([]uncertainty.Quantity, len(in))
	for i, q := range in {
		list[i] = *q
	}
	q, err := uncertainty.Propagate(name, list, f)
	if err != nil {
		return quantity.Value{}, err
	}
	return q.Value(), nil
}

// missing appends a measurement that is needed.
func (r *Result) missing(q *uncertainty.Quantity, what string) bool {
	if q == nil {
		r.Next = append(r.Next, "Measure "+what+".")
	}
	return q == nil
}
