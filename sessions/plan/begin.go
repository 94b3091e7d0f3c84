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
	set := false
	for _, r := range earlier {
		i := slices.IndexFunc(p.Steps, func(s Step) bool { return s.Dimension == r.Dimension })
		switch {
		case i >= 0 && r.ReplacedBy != 0:
			pr.replaced = append(pr.replaced, r)
		case i < 0 || r.State == sessions.Undone:
		case w.Anew && !pr.skipped[i]:
			set = true
		case r.State != sessions.Kept:
		default:
			pr.earlier = append(pr.earlier, taken(i, r))
			pr.note(r)
			if !named[i] {
				pr.had[i]++
			}
		}
	}
	if set {
		pr.anew = pr.names()
	}
	return pr, nil
}

// names returns the dimensions that are to be measured, none where that is all.
func (p *Progress) names() []string {
	names := []string{}
	for i, s := range p.plan.Steps {
		if !p.skipped[i] {
			names = append(names, s.Dimension)
		}
	}
	if len(names) == len(p.plan.Steps) {
		return names[:0]
	}
	return names
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

// Replaced returns the earlier readings of the plan's dimensions that no longer count,
// because what they are of was replaced.
func (p *Progress) Replaced() []sessions.Reading { return p.replaced }

// Anew tells, until ToldAnew, that what is measured takes the place of earlier readings:
// those of these dimensions, or of the whole part where there are none.
func (p *Progress) Anew() (dimensions []string, ok bool) { return p.anew, p.anew != nil }

// ToldAnew says that it is in the book.
func (p *Progress) ToldAnew() { p.anew = nil }

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
