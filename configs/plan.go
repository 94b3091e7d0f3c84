package configs

import (
	"embed"
	"path"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

//go:embed plans/*.yaml
var planFiles embed.FS

// ownedPlan is a plan and where it stands; a built-in one stands nowhere.
type ownedPlan struct {
	plan.Plan
	from Source
}

// planText is a plan as YAML has it: ranges in millimetres, or as bare numbers.
type planText struct {
	plan.Plan
	Steps []stepText `mapstructure:"steps"`
}

type stepText struct {
	plan.Step
	MinMM    float64 `mapstructure:"min_mm"`
	MaxMM    float64 `mapstructure:"max_mm"`
	VaryMM   float64 `mapstructure:"vary_mm"`
	MinCount float64 `mapstructure:"min_count"`
	MaxCount float64 `mapstructure:"max_count"`
}

// PlanNames returns the names of the built-in plans, without reading the plans.
func PlanNames() []string { return baseNames(planFiles, "plans") }

// Plans returns the built-in plans and the user's.
func (l Loaded) Plans() ([]plan.Plan, error) {
	owned, err := l.plans()
	all := make([]plan.Plan, len(owned))
	for i, p := range owned {
		all[i] = p.Plan
	}
	return all, err
}

// Plan returns the plan of that name; an unknown one is an *Error that names those
// there are.
func (l Loaded) Plan(name string) (plan.Plan, error) {
	all, err := l.plans()
	if err != nil {
		return plan.Plan{}, err
	}
	p, err := named("plan", name, all, func(p ownedPlan) string { return p.Name })
	return p.Plan, err
}

// plans returns the built-in plans and those of the user's file, by name. A user's
// plan replaces the built-in one of its name whole: half of an order is none.
func plans(file read) ([]ownedPlan, error) {
	var all []ownedPlan
	err := eachEmbedded(planFiles, "plans", func(name string, n *yaml.Node) error {
		p, err := onePlan(n, name, strings.TrimSuffix(path.Base(name), ".yaml"))
		p.from = Source{}
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
		p, err := onePlan(n, file.file, "")
		if err != nil {
			return nil, err
		}
		if seen[p.Name] {
			return nil, at(p.from, "plan %s is given twice: keep one", p.Name)
		}
		seen[p.Name] = true
		all = slices.DeleteFunc(all, func(q ownedPlan) bool { return q.Name == p.Name })
		all = append(all, p)
	}
	slices.SortFunc(all, func(a, b ownedPlan) int { return strings.Compare(a.Name, b.Name) })
	return all, nil
}

// onePlan reads and checks a plan. The name is for one that gives none itself.
func onePlan(n *yaml.Node, file, name string) (ownedPlan, error) {
	text := planText{Plan: plan.Plan{Name: name}}
	f := filler{file: file, words: wordsOf(reflect.TypeFor[planText](), ""), lines: map[string]int{}}
	if err := f.fill(n, reflect.ValueOf(&text).Elem(), ""); err != nil {
		return ownedPlan{}, err
	}
	p := ownedPlan{text.Plan, Source{File: file, Line: n.Line}}
	for _, s := range text.Steps {
		s.Min, s.Max, s.Vary = s.MinMM/1000, s.MaxMM/1000, s.VaryMM/1000
		if s.Kind == sessions.Count {
			s.Min, s.Max, s.Vary = s.MinCount, s.MaxCount, 0
		}
		p.Steps = append(p.Steps, s.Step)
	}
	if err := p.Check(); err != nil {
		return p, at(p.from, "%s", err)
	}
	return p, nil
}
