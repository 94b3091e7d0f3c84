package plan

import "fmt"

// Left is what a plan has left to do, and whether its finding can answer already.
type Left struct {
	Wanted  []string // in order: "bore (1 more)", "depth"
	Answers bool
	Steps   []StepLeft // one for each of the plan's
}

// StepLeft is how far a step has come.
type StepLeft struct {
	Dimension string
	Kept      int // readings that count, those of earlier sessions too
	Wanted    int // how many more are asked for
	Skipped   bool
}

// Left returns what is left.
func (p *Progress) Left() Left {
	l := Left{Answers: p.answers()}
	for i, s := range p.plan.Steps {
		step := StepLeft{Dimension: s.Dimension, Kept: p.standing(i), Skipped: p.skipped[i]}
		if p.wants(i) {
			step.Wanted = p.counts[i] - step.Kept
			l.Wanted = append(l.Wanted, step.String())
		}
		l.Steps = append(l.Steps, step)
	}
	return l
}

// String returns "depth", or "bore (1 more)" where some are kept.
func (s StepLeft) String() string {
	if s.Kept == 0 {
		return s.Dimension
	}
	return fmt.Sprintf("%s (%d more)", s.Dimension, s.Wanted)
}
