// Package plan says which dimension is to be measured next, and whether a reading
// that comes in can be it. It is a pure state machine: it keeps nothing and knows
// no clock, port or book.
package plan

import (
	"fmt"
	"math"
	"slices"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Plan is what is measured of one part, in order. The tags of its fields are their
// keys in YAML.
type Plan struct {
	Name     string   `mapstructure:"name"` // by which the user calls it
	Title    string   `mapstructure:"title"`
	Part     string   `mapstructure:"part"` // keeps the readings where the user names no other
	Cautions []string `mapstructure:"cautions"`
	// Finding is what the readings are judged for; "" where they are only kept.
	Finding sessions.Finding `mapstructure:"finding"`
	Steps   []Step
}

// Step is one dimension, taken once or several times.
type Step struct {
	Dimension string `mapstructure:"dimension"` // bore, arbor, strip …
	// Is is what the plan's finding calls the dimension; "" for the same name.
	Is      string        `mapstructure:"is"`
	Ask     string        `mapstructure:"ask"`    // a sentence: what to measure, and where
	Count   int           `mapstructure:"count"`  // how many readings, 1 to 50
	Spread  string        `mapstructure:"spread"` // how they are spread, for whoever reads the plan: "60°"; the user is told by Ask
	Kind    sessions.Kind `mapstructure:"kind"`
	Caution string        `mapstructure:"caution"` // said before the step; "" for none
	// Min to Max is the plausible range, in metres, or a bare number for a count.
	Min, Max float64
	// Vary is by how much the part's own readings may differ beyond what the
	// instrument explains: out of round, taper. Metres, 0 for a count.
	Vary float64
}

// Check reports what makes the plan unusable, by the keys and millimetres of YAML.
func (p Plan) Check() error {
	switch {
	case !PlainName(p.Name):
		return fmt.Errorf("plan %q: a name is small letters, digits and hyphens", p.Name)
	case p.Title == "":
		return fmt.Errorf("plan %s has no title: say what it measures", p.Name)
	case p.Part == "":
		return fmt.Errorf("plan %s names no part: say which it measures, as in part: barrel", p.Name)
	case len(p.Steps) == 0:
		return fmt.Errorf("plan %s has no steps: add a list of them under steps", p.Name)
	}
	if err := quantity.CheckName("part", p.Part); err != nil {
		return fmt.Errorf("plan %s: %w", p.Name, err)
	}
	seen := map[string]bool{}
	for i, s := range p.Steps {
		if err := s.check(); err != nil {
			return fmt.Errorf("plan %s, step %d: %w", p.Name, i+1, err)
		}
		if seen[s.Dimension] {
			return fmt.Errorf("plan %s, step %d: dimension %s is asked for twice: raise its count", p.Name, i+1, s.Dimension)
		}
		seen[s.Dimension] = true
	}
	return p.checkFinding()
}

func (s Step) check() error {
	switch {
	case !PlainName(s.Dimension):
		return fmt.Errorf("dimension %q: a name is small letters, digits and hyphens", s.Dimension)
	case s.Dimension == Zero:
		return fmt.Errorf("dimension %s is kept for the closed jaws: choose another name", Zero)
	case s.Ask == "":
		return fmt.Errorf("dimension %s has no ask: say what to do", s.Dimension)
	case s.Count < 1 || s.Count > 50:
		return fmt.Errorf("count %d: must be 1 to 50 readings", s.Count)
	case !slices.Contains(sessions.Kinds(), s.Kind):
		return fmt.Errorf("kind %q is not known: use %s", s.Kind, oneOf(sessions.Kinds()))
	case s.Kind == sessions.Count && !(s.Min > 0 && s.Min < s.Max && s.Max <= math.MaxFloat64):
		return fmt.Errorf("min_count %v to max_count %v: must be above 0, the second the larger", s.Min, s.Max)
	case s.Kind == sessions.Count:
		return nil
	case !(s.Min > UndoWithin && s.Min < s.Max && s.Max <= math.MaxFloat64):
		return fmt.Errorf("min_mm %v to max_mm %v: must be above %v, the second the larger", mm(s.Min), mm(s.Max), mm(UndoWithin))
	case !(s.Vary >= 0 && s.Vary <= s.Max):
		return fmt.Errorf("vary_mm %v: must be 0 to max_mm", mm(s.Vary))
	}
	return nil
}

// mm gives metres back as the millimetres they were written in.
func mm(metres float64) float64 { return math.Round(metres*1e9) / 1e6 }

// PlainName tells whether a text can be a name: small letters, digits and hyphens,
// at most 40. It can then be typed in a shell, and split by no reader of settings.
func PlainName(s string) bool {
	for i, r := range s {
		letter := 'a' <= r && r <= 'z' || '0' <= r && r <= '9'
		if !letter && (r != '-' || i == 0) {
			return false
		}
	}
	return s != "" && len(s) <= 40
}

// oneOf writes two words or more as one says them: "pivot, wheel or pendulum".
func oneOf[T ~string](words []T) string {
	last := len(words) - 1
	all := string(words[0])
	for _, w := range words[1:last] {
		all += ", " + string(w)
	}
	return all + " or " + string(words[last])
}

// text writes a value of the step for a sentence. Lengths are in millimetres with
// inches beside them: the plan doesn't know which units the user has chosen.
func (s Step) text(v float64) string {
	if s.Kind == sessions.Count {
		return fmt.Sprintf("%g", v)
	}
	return quantity.Both.Size(v, 2)
}
