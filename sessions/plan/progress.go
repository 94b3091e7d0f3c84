package plan

import (
	"fmt"
	"slices"

	"evenbeat/sessions"
)

// Ask is what the plan wants now.
type Ask struct {
	Step  Step
	N, Of int  // reading N of Of
	Again bool // the last reading of it was doubtful, and isn't plainly another dimension's
	// ZeroFirst tells that nothing has been read yet. Jaws closed and sent then give
	// the instrument's zero error; they may be skipped.
	ZeroFirst bool
}

// String returns "bore 2 of 3", "length", or "" when nothing is left to ask.
func (a Ask) String() string {
	switch {
	case a.Step.Dimension == "":
		return ""
	case a.Of > 1:
		return fmt.Sprintf("%s %d of %d", a.Step.Dimension, a.N, a.Of)
	}
	return a.Step.Dimension
}

// Progress is how far a plan has come in one session. Judge says what a reading
// would be. Call Keep once the reading is safely recorded: it moves on.
type Progress struct {
	plan    Plan
	counts  []int // readings asked for, by step: its Count, and those that Repeat adds
	skipped []bool
	had     []int // readings of earlier sessions that count, by step
	at      int   // step jumped to, -1 for none
	done    []action
	earlier []action // readings of earlier sessions, which new ones are held against
	before  []Had    // of them, for whoever asks
	anew    []string // what is measured anew, until it is told; nil for nothing

	replaced []sessions.Reading // that no longer count
}

type actionKind uint8

const (
	tookReading actionKind = iota
	skippedStep
	askedRepeat
	jumped
)

// action is one thing that Undo takes back.
type action struct {
	kind    actionKind
	step    int // -1 for a zero reading
	id      int64
	value   float64
	limit   float64 // how far from the truth it may be
	digit   float64 // one of the last digit shown
	doubted bool
	by      string
	offered int  // of a doubted reading: the step that it would rather be, -1 for none
	count   int  // of askedRepeat and jumped: how many the step wanted before
	skipped bool // of the same: whether the step was skipped before
	at      int  // of jumped: where an earlier jump had gone
}

// reads tells whether the action is a reading of the step.
func (a action) reads(step int) bool { return a.kind == tookReading && a.step == step }

// Plan returns the plan in hand.
func (p *Progress) Plan() Plan { return p.plan }

// Next returns what to measure now; false when the plan is through.
func (p *Progress) Next() (Ask, bool) {
	i := p.current()
	if i < 0 {
		return Ask{}, false
	}
	ask := Ask{Step: p.plan.Steps[i], N: p.standing(i) + 1, Of: p.counts[i], ZeroFirst: len(p.done) == 0}
	if n := len(p.done); n > 0 {
		ask.Again = p.done[n-1].reads(i) && p.done[n-1].doubted && p.done[n-1].offered < 0
	}
	return ask, true
}

// current returns the first step that still wants a reading, -1 if none does.
func (p *Progress) current() int {
	if p.at >= 0 && p.wants(p.at) {
		return p.at
	}
	for i := range p.plan.Steps {
		if p.wants(i) {
			return i
		}
	}
	return -1
}

func (p *Progress) wants(step int) bool {
	return !p.skipped[step] && p.standing(step) < p.counts[step]
}

// standing counts the step's readings that stand, those of earlier sessions too.
func (p *Progress) standing(step int) int { return p.had[step] + p.kept(step) }

// kept counts the step's readings that stand, without those of earlier sessions.
func (p *Progress) kept(step int) int {
	n := 0
	for _, a := range p.done {
		if a.reads(step) && !a.doubted {
			n++
		}
	}
	return n
}

// begun reports whether an instrument has sent anything but zero readings. One that
// speaks for the first time may close its jaws for its zero. What is typed has no jaws of
// its own.
func (p *Progress) begun(instrument string) bool {
	return slices.ContainsFunc(p.done, func(a action) bool {
		return a.kind == tookReading && a.step >= 0 && (a.by == instrument || instrument == sessions.TypedInstrument)
	})
}

// Keep moves on after a reading that Judge gave v for and that is recorded as id. An
// undo, or a reading that wasn't asked for, changes nothing.
func (p *Progress) Keep(v Verdict, id int64) {
	if v.Undo || v.Done {
		return
	}
	v.taken.id = id
	p.done = append(p.done, v.taken)
}

// Last returns the id of the reading that Undo would take back: 0 for a skip, a
// repeat or a jump, false where there is nothing to take back.
func (p *Progress) Last() (int64, bool) {
	if len(p.done) == 0 {
		return 0, false
	}
	return p.done[len(p.done)-1].id, true
}

// Has tells whether the plan has a reading that TakeBack could take back.
func (p *Progress) Has(id int64) bool {
	return slices.ContainsFunc(slices.Concat(p.done, p.earlier), func(a action) bool { return a.kind == tookReading && a.id == id })
}

// Undo takes back the last reading, skip, repeat or jump.
func (p *Progress) Undo() {
	n := len(p.done) - 1
	if n < 0 {
		return
	}
	switch a := p.done[n]; a.kind {
	case skippedStep:
		p.skipped[a.step] = false
	case jumped:
		p.at = a.at
		fallthrough
	case askedRepeat:
		p.counts[a.step], p.skipped[a.step] = a.count, a.skipped
	}
	p.done = p.done[:n]
}

// TakeBack takes back one reading, whichever session it is of; false where the plan has no
// such reading.
func (p *Progress) TakeBack(id int64) bool {
	is := func(a action) bool { return a.kind == tookReading && a.id == id }
	if n := slices.IndexFunc(p.done, is); n >= 0 {
		p.done = slices.Delete(p.done, n, n+1)
		return true
	}
	n := slices.IndexFunc(p.earlier, is)
	if n < 0 {
		return false
	}
	if step := p.earlier[n].step; p.had[step] > 0 {
		p.had[step]--
	}
	p.earlier = slices.Delete(p.earlier, n, n+1)
	return true
}

// Skip leaves out what the present step still wants. It returns the step's
// dimension, "" when the plan is through.
func (p *Progress) Skip() string {
	i := p.current()
	if i < 0 {
		return ""
	}
	p.skipped[i] = true
	p.done = append(p.done, action{kind: skippedStep, step: i})
	return p.plan.Steps[i].Dimension
}

// Repeat asks for one more reading of the dimension that was read last; those there
// are stand. It returns the dimension, "" when nothing has been read yet.
func (p *Progress) Repeat() string {
	for n := len(p.done) - 1; n >= 0; n-- {
		a := p.done[n]
		if a.kind != tookReading || a.step < 0 {
			continue
		}
		p.oneMore(a.step, askedRepeat)
		return p.plan.Steps[a.step].Dimension
	}
	return ""
}

// Jump goes to the step whose dimension has these first letters, and asks for one more
// reading of it where it has all. It returns the dimension, "" where not exactly one
// dimension of the plan begins so.
func (p *Progress) Jump(letters string) string {
	i, err := p.plan.step(letters)
	if err != nil {
		return ""
	}
	if a := p.oneMore(i, jumped); p.standing(i) < a.count && !a.skipped {
		p.counts[i] = a.count // it wants some yet
	}
	p.at = i
	return p.plan.Steps[i].Dimension
}

// oneMore wants one more reading of a step than stand, or than it wanted.
func (p *Progress) oneMore(step int, by actionKind) action {
	a := action{kind: by, step: step, count: p.counts[step], skipped: p.skipped[step], at: p.at}
	p.done = append(p.done, a)
	if p.skipped[step] {
		p.counts[step], p.skipped[step] = p.standing(step), false
	}
	p.counts[step]++
	return a
}
