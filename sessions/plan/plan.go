// Package plan says which dimension is to be measured next, and whether a reading
// that comes in can be it. It is a pure state machine: it keeps nothing and knows
// no clock, port or book.
package plan

import (
	"fmt"
	"math"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Plan is an order of measuring one part.
type Plan struct {
	Name     string // by which the user calls it
	Title    string
	Part     string // the part its readings belong to, where the user names none
	Cautions []string
	Steps    []Step
}

// Step is one dimension, taken once or several times.
type Step struct {
	Dimension string // bore, arbor, strip …
	Ask       string // a sentence: what to measure, and where
	Count     int    // how many readings, 1 or more
	Spread    string // how they are spread: "60°", "along the strip"; "" for one
	Kind      sessions.Kind
	Min, Max  float64 // plausible range: metres, or a bare number for Count
	// Vary is how far the part's own readings may lie apart, beyond what the
	// instrument explains: out-of-round, taper. Metres, or a bare number.
	Vary    float64
	Caution string
}

// Check reports what makes the plan unusable, naming step and value.
func (p Plan) Check() error {
	if p.Name == "" {
		return fmt.Errorf("a plan needs a name")
	}
	if len(p.Steps) == 0 {
		return fmt.Errorf("plan %s has no steps", p.Name)
	}
	for i, s := range p.Steps {
		if err := s.check(); err != nil {
			return fmt.Errorf("plan %s, step %d: %w", p.Name, i+1, err)
		}
	}
	return nil
}

func (s Step) check() error {
	switch {
	case s.Dimension == "":
		return fmt.Errorf("it names no dimension")
	case s.Dimension == Zero:
		return fmt.Errorf("dimension %s is the closed-jaws reading and can't be asked for", Zero)
	case s.Count < 1:
		return fmt.Errorf("%s: %d readings: must be 1 or more", s.Dimension, s.Count)
	case !finite(s.Min) || !finite(s.Max) || s.Min < 0 || s.Max <= s.Min:
		return fmt.Errorf("%s: range %g to %g: must be 0 or more, and rise", s.Dimension, s.Min, s.Max)
	case !finite(s.Vary) || s.Vary < 0:
		return fmt.Errorf("%s: variation %g: must be 0 or more", s.Dimension, s.Vary)
	}
	for _, k := range sessions.Kinds() {
		if s.Kind == k {
			return nil
		}
	}
	return fmt.Errorf("%s: kind %q is not known: use outside, inside, depth, typed or count", s.Dimension, s.Kind)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// text writes a value of the step for a sentence. Lengths are in millimetres
// here, with the inches beside them, since the plan knows nobody's choice of units.
func (s Step) text(v float64) string {
	if s.Kind == sessions.Count {
		return fmt.Sprintf("%g", v)
	}
	return quantity.Both.Size(v, 2)
}

// Ask is what the plan wants now.
type Ask struct {
	Step  Step
	N, Of int  // reading n of of
	Again bool // the last reading of it was doubtful
	// ZeroFirst tells that nothing has been read yet: jaws closed and sent gives
	// the instrument's zero error, and may be skipped.
	ZeroFirst bool
}

// String writes it as the bench hears it: "bore 2 of 3", "length". It is "" when
// there is nothing left to ask.
func (a Ask) String() string {
	switch {
	case a.Step.Dimension == "":
		return ""
	case a.Of > 1:
		return fmt.Sprintf("%s %d of %d", a.Step.Dimension, a.N, a.Of)
	}
	return a.Step.Dimension
}
