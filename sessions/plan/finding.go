package plan

import (
	"cmp"
	"fmt"
	"slices"

	"evenbeat/sessions"
)

// read returns what the plan's finding calls the step's dimension; "" where the
// finding doesn't read it.
func (p Plan) read(s Step) string {
	name := s.Is
	if name == "" {
		name = s.Dimension
	}
	if slices.Contains(p.Finding.Dimensions(), name) {
		return name
	}
	return ""
}

func (p Plan) checkFinding() error {
	known := p.Finding.Dimensions()
	if p.Finding != "" && known == nil {
		return fmt.Errorf("plan %s: finding %q is not known: use %s", p.Name, p.Finding, oneOf(sessions.Findings()))
	}
	step := map[string]int{} // by what is read, counted from 1
	for i, s := range p.Steps {
		is := p.read(s)
		why := ""
		switch {
		case s.Is != "" && p.Finding == "":
			why = "there is no finding to read it: add finding: to the plan"
		case s.Is != "" && is == "":
			why = fmt.Sprintf("finding %s reads no such dimension: use %s", p.Finding, oneOf(known))
		case is == "":
			continue
		case step[is] != 0:
			why = fmt.Sprintf("so is step %d: finding %s takes one of each", step[is], p.Finding)
		case sessions.UsualKind(is) == sessions.Count && s.Kind != sessions.Count:
			why = fmt.Sprintf("finding %s counts it: write kind: count", p.Finding)
		case sessions.UsualKind(is) != sessions.Count && s.Kind == sessions.Count:
			why = fmt.Sprintf("finding %s reads a length: kind can't be count", p.Finding)
		}
		if why != "" {
			return fmt.Errorf("plan %s, step %d: is %s: %s", p.Name, i+1, cmp.Or(s.Is, is), why)
		}
		step[is] = i + 1
	}
	if p.Finding != "" && len(step) == 0 {
		return fmt.Errorf("plan %s: finding %s reads none of its steps: say which is which, as in is: %s", p.Name, p.Finding, known[0])
	}
	return nil
}

// Resolve returns the record as findings read it: each reading goes by what the plan
// of its session says its dimension is. The record itself stays as it is. A session
// whose plan isn't found, or names no finding, is read by its dimensions' own names.
func Resolve(rec sessions.Record, find func(name string) (Plan, bool)) sessions.Record {
	plans := map[int64]Plan{}
	for _, s := range rec.Sessions {
		if s.Kind != sessions.SessionMeasure {
			continue
		}
		if p, ok := find(s.Plan); ok && p.Finding != "" {
			plans[s.ID] = p
		}
	}
	rec.Readings = slices.Clone(rec.Readings)
	for i := range rec.Readings {
		if p, ok := plans[rec.Readings[i].SessionID]; ok {
			p.resolve(&rec.Readings[i])
		}
	}
	return rec
}

func (p Plan) resolve(r *sessions.Reading) {
	r.Finding = p.Finding
	i := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Dimension == r.Dimension })
	if i < 0 || p.read(p.Steps[i]) == "" {
		return
	}
	r.Dimension = p.read(p.Steps[i])
	if r.KindGuessed {
		r.Kind = sessions.UsualKind(r.Dimension)
	}
}

// answers tells whether the readings that stand let the plan's finding say anything. A
// spring wants bore, arbor and strip, or the run-down coil in place of the strip.
func (p *Progress) answers() bool {
	has := map[string]bool{}
	for i, s := range p.plan.Steps {
		if is := p.plan.read(s); is != "" && p.standing(i) > 0 {
			has[is] = true
		}
	}
	if p.plan.Finding == sessions.SpringFinding {
		return has["bore"] && has["arbor"] && (has["strip"] || has["inner"] && has["coils"])
	}
	return len(has) > 0
}
