package configs

import (
	"embed"
	"fmt"
	"path"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

//go:embed plans/*.yaml
var planFiles embed.FS

// Kinds of step: what is measured, and so which of an instrument's limits holds.
const (
	StepOutside = "outside"
	StepInside  = "inside"
	StepDepth   = "depth"
	StepTyped   = "typed" // a length that is typed, not sent by an instrument
	StepCount   = "count" // a bare number: teeth, coils
)

// Plan is what is measured of a part, in order.
type Plan struct {
	Name     string   `mapstructure:"name"`
	Title    string   `mapstructure:"title"`
	Part     string   `mapstructure:"part"` // what the readings are kept under, where the user names nothing
	Cautions []string `mapstructure:"cautions"`
	Steps    []Step   `mapstructure:"steps"`

	From Source // of a user's own; the zero value is built in
}

// Step is one dimension of a plan.
type Step struct {
	Dimension string `mapstructure:"dimension"`
	Ask       string `mapstructure:"ask"`     // what to do, as a sentence
	Count     int    `mapstructure:"count"`   // readings wanted
	Spread    string `mapstructure:"spread"`  // how they lie to each other: "60°", "along the strip"
	Kind      string `mapstructure:"kind"`    // one of the kinds of step
	Caution   string `mapstructure:"caution"` // said before the step; "" for none
	// MinMM to MaxMM is what the dimension can plausibly be; VaryMM is by how much
	// its readings may differ because the part is out of round or tapers.
	MinMM  float64 `mapstructure:"min_mm"`
	MaxMM  float64 `mapstructure:"max_mm"`
	VaryMM float64 `mapstructure:"vary_mm"`
	// MinCount to MaxCount is the same for a step of kind count.
	MinCount float64 `mapstructure:"min_count"`
	MaxCount float64 `mapstructure:"max_count"`
}

// Range returns the plausible range in metres, or as a bare number for a step of
// kind count, and by how much readings may differ, alike.
func (s Step) Range() (low, high, vary float64) {
	if s.Kind == StepCount {
		return s.MinCount, s.MaxCount, 0
	}
	return s.MinMM / 1000, s.MaxMM / 1000, s.VaryMM / 1000
}

// BuiltIn reports whether the plan came with the program.
func (p Plan) BuiltIn() bool { return p.From == Source{} }

// Plan returns the plan of that name; an unknown one is an *Error that names those
// there are.
func (l Loaded) Plan(name string) (Plan, error) {
	all, err := l.plans()
	if err != nil {
		return Plan{}, err
	}
	return named("plan", name, all, func(p Plan) string { return p.Name })
}

// plans returns the built-in plans and those of the user's file, by name. A user's
// plan of a known name takes its place whole: half of an order is none.
func plans(file read) ([]Plan, error) {
	var all []Plan
	err := eachEmbedded(planFiles, "plans", func(name string, n *yaml.Node) error {
		p, err := onePlan(n, name)
		p.Name, p.From = strings.TrimSuffix(path.Base(name), ".yaml"), Source{}
		all = append(all, p)
		return err
	})
	if err != nil {
		return nil, err
	}
	own, err := list(file.plans, file.file, "plans")
	if err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, n := range own {
		p, err := onePlan(n, file.file)
		if err != nil {
			return nil, err
		}
		if err := p.check(); err != nil {
			return nil, at(p.From, "%s", err)
		}
		if seen[p.Name] {
			return nil, at(p.From, "plan %s is given twice: keep one", p.Name)
		}
		seen[p.Name] = true
		all = slices.DeleteFunc(all, func(q Plan) bool { return q.Name == p.Name })
		all = append(all, p)
	}
	slices.SortFunc(all, func(a, b Plan) int { return strings.Compare(a.Name, b.Name) })
	return all, nil
}

func onePlan(n *yaml.Node, file string) (Plan, error) {
	p := Plan{From: Source{File: file, Line: n.Line}}
	f := filler{file: file, words: wordsOf(reflect.TypeFor[Plan](), ""), lines: map[string]int{}}
	err := f.fill(n, reflect.ValueOf(&p).Elem(), "")
	return p, err
}

// check holds a plan against what can be measured.
func (p Plan) check() error {
	switch {
	case !plainName(p.Name):
		return fmt.Errorf("plan %q: a name is small letters, digits and hyphens", p.Name)
	case p.Title == "":
		return fmt.Errorf("plan %s has no title: say what it measures", p.Name)
	case p.Part == "":
		return fmt.Errorf("plan %s names no part: say which it measures, as in part: barrel", p.Name)
	case len(p.Steps) == 0:
		return fmt.Errorf("plan %s has no steps: add a list of them under steps", p.Name)
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
	return nil
}

// undoMM: jaws closed to within this of zero mean "undo the last one", so no
// dimension may be as small.
const undoMM = 0.05

func (s Step) check() error {
	kinds := []string{StepOutside, StepInside, StepDepth, StepTyped, StepCount}
	switch {
	case !plainName(s.Dimension):
		return fmt.Errorf("dimension %q: a name is small letters, digits and hyphens", s.Dimension)
	case s.Dimension == "zero":
		return fmt.Errorf("dimension zero is kept for the closed jaws: choose another name")
	case s.Ask == "":
		return fmt.Errorf("dimension %s has no ask: say what to do", s.Dimension)
	case s.Count < 1 || s.Count > 50:
		return fmt.Errorf("count %d: must be 1 to 50 readings", s.Count)
	case !slices.Contains(kinds, s.Kind):
		return fmt.Errorf("kind %q is not known: use %s", s.Kind, choice(kinds))
	case s.Kind == StepCount && !(s.MinCount > 0 && s.MinCount < s.MaxCount):
		return fmt.Errorf("min_count %v to max_count %v: must be above 0, the second the larger", s.MinCount, s.MaxCount)
	case s.Kind == StepCount:
		return nil
	case !(s.MinMM > undoMM && s.MinMM < s.MaxMM):
		return fmt.Errorf("min_mm %v to max_mm %v: must be above %v, the second the larger", s.MinMM, s.MaxMM, undoMM)
	case s.VaryMM < 0 || s.VaryMM > s.MaxMM:
		return fmt.Errorf("vary_mm %v: must be 0 to max_mm", s.VaryMM)
	}
	return nil
}
