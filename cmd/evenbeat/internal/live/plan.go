package live

import (
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// Plan makes the measuring plan of that name.
func (b Bench) Plan(name string) (plan.Plan, error) {
	c, err := b.Loaded.Plan(name)
	if err != nil {
		return plan.Plan{}, &CallError{err}
	}
	p := plan.Plan{Name: c.Name, Title: c.Title, Part: c.Part, Cautions: c.Cautions}
	for _, s := range c.Steps {
		low, high, vary := s.Range()
		p.Steps = append(p.Steps, plan.Step{Dimension: s.Dimension, Ask: s.Ask, Count: s.Count, Spread: s.Spread,
			Kind: sessions.Kind(s.Kind), Min: low, Max: high, Vary: vary, Caution: s.Caution})
	}
	if err := p.Check(); err != nil {
		return p, &CallError{err}
	}
	return p, nil
}
