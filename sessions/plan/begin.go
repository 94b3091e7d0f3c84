package plan

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"evenbeat/sessions"
)

// Wish is which part of a plan is to be measured. The zero value goes on where the
// record stops.
type Wish struct {
	From string   // dimension to begin at, by its first letters; "" for the first still wanted
	Only []string // dimensions to measure, by their first letters; none for all
	Anew bool     // what is measured counts in place of earlier readings, as of a changed part
}

// Had is what earlier sessions kept of a dimension.
type Had struct {
	Dimension string
	Readings  int
	Last      time.Time
}

// Start begins a plan that has passed its Check, with nothing measured yet.
func Start(p Plan) *Progress {
	pr := &Progress{plan: p, counts: make([]int, len(p.Steps)), skipped: make([]bool, len(p.Steps)), had: make([]int, len(p.Steps)), at: -1}
	for i, s := range p.Steps {
		pr.counts[i] = s.Count
	}
	return pr
}

// Begin begins a plan where the record stops: earlier are the readings of its part that
// stand. What a wish names is measured again, whether there are readings of it or not.
// The error names a dimension that the plan hasn't.
func Begin(p Plan, w Wish, earlier []sessions.Reading) (*Progress, error) {
	pr := Start(p)
	named, from := make([]bool, len(p.Steps)), 0
	for _, letters := range w.Only {
		i, err := p.step(letters)
		if err != nil {
			return nil, err
		}
		named[i] = true
	}
	if w.From != "" {
		i, err := p.step(w.From)
		if err != nil {
			return nil, err
		}
		from, named[i] = i, true
	}
	for i := range p.Steps {
		pr.skipped[i] = i < from || len(w.Only) > 0 && !named[i]
	}
	pr.aside = map[string][]int64{}
	for _, r := range earlier {
		i := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Dimension == r.Dimension })
		switch {
		case i < 0 || r.State != sessions.Kept:
		case w.Anew && !pr.skipped[i]:
			pr.aside[r.Dimension] = append(pr.aside[r.Dimension], r.ID)
		default:
			pr.earlier = append(pr.earlier, taken(i, r))
			pr.note(r)
			if !named[i] {
				pr.had[i]++
			}
		}
	}
	return pr, nil
}

func (p *Progress) note(r sessions.Reading) {
	i := slices.IndexFunc(p.before, func(h Had) bool { return h.Dimension == r.Dimension })
	if i < 0 {
		i = len(p.before)
		p.before = append(p.before, Had{Dimension: r.Dimension})
	}
	h := &p.before[i]
	h.Readings++
	if r.At.After(h.Last) {
		h.Last = r.At
	}
}

// Before returns what earlier sessions kept of the plan's dimensions and still counts.
func (p *Progress) Before() []Had { return p.before }

// Aside returns the earlier readings that a new one of the dimension takes the place of,
// once.
func (p *Progress) Aside(dimension string) []int64 {
	ids := p.aside[dimension]
	delete(p.aside, dimension)
	return ids
}

// step finds the step whose dimension has these first letters, or all of them.
func (p Plan) step(letters string) (int, error) {
	found := -1
	for i, s := range p.Steps {
		switch {
		case s.Dimension == letters:
			return i, nil
		case letters == "" || !strings.HasPrefix(s.Dimension, letters):
		case found >= 0:
			return 0, fmt.Errorf("dimension %q of plan %s may be %s or %s: write more of its letters", letters, p.Name, p.Steps[found].Dimension, s.Dimension)
		default:
			found = i
		}
	}
	if found < 0 {
		return 0, fmt.Errorf("plan %s has no dimension %q: use %s", p.Name, letters, oneOf(p.dimensions()))
	}
	return found, nil
}

func (p Plan) dimensions() (all []string) {
	for _, s := range p.Steps {
		all = append(all, s.Dimension)
	}
	return all
}
