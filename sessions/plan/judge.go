package plan

import (
	"fmt"
	"math"
	"slices"

	"evenbeat/sessions"
)

// Zero is the dimension of a closed-jaws reading.
const Zero = sessions.ZeroDimension

const (
	// UndoWithin: a reading this near to zero, in metres, means "undo the last one".
	UndoWithin = 0.05e-3
	// zeroWithin: a reading this near to zero, before any other, is the zero error.
	zeroWithin = sessions.ZeroWithin
)

// IsUndo tells whether v metres is what closed jaws send: within 0.05 mm of zero.
// That means "undo the last one", so that oily hands need touch nothing but the
// instrument.
func IsUndo(v float64) bool { return math.Abs(v) <= UndoWithin }

// Verdict is what a reading is taken for.
type Verdict struct {
	Undo bool // no reading: the jaws were closed to undo the last one
	Done bool // the plan is through and asks for nothing more
	// Dimension is Zero, or that of the Step that the reading is of.
	Dimension string
	Step      Step
	State     sessions.State // a doubtful reading is asked for again
	Why       string         // why it is doubtful, or what settled a doubt

	taken action
}

// Judge says what a reading is, by its Value, Step, Limit and U: metres, or a bare
// number for a step of kind Count. It changes nothing.
//
//   - A length near zero that isn't plausible for the step is the zero error if
//     nothing else has been read yet (within 0.2 mm). Else it means "undo the last
//     one" (within 0.05 mm).
//   - A reading outside the step's plausible range is doubtful, however often it is sent.
//     Where another step of the plan wants such a reading, it is offered as that one: sent
//     again within a + b + e, it is taken so.
//   - A reading that differs from a standing one of the step by more than
//     a + b + e + w is doubtful: the two readings' limits of error, one of the last digit,
//     and what the step allows the part itself to vary. Sent again, a repeat within
//     a + b + e settles the doubt, and stands. The doubtful one stays doubtful, so that
//     one place isn't counted twice.
//   - With several instruments, what is doubtful for the step is taken for the dimension
//     that its instrument was used for last, if that wants it and it agrees there.
func (p *Progress) Judge(r sessions.Reading) Verdict {
	i := p.current()
	if i < 0 {
		return Verdict{Undo: IsUndo(r.Value) && p.begun(r.Instrument), Done: true}
	}
	s := p.plan.Steps[i]
	if s.takes(r.Value) {
		v := p.judge(i, r)
		if w, ok := p.byUse(i, r); ok && v.State == sessions.Doubtful {
			return w
		}
		return v
	}
	if s.Kind != sessions.Count {
		if !p.begun(r.Instrument) && math.Abs(r.Value) <= zeroWithin {
			return Verdict{Dimension: Zero, State: sessions.Kept, taken: taken(-1, r)}
		}
		if IsUndo(r.Value) {
			return Verdict{Undo: true}
		}
	}
	if v, ok := p.byUse(i, r); ok {
		return v
	}
	return p.misplaced(i, r)
}

// byUse judges a reading of one of several instruments as of the dimension that this one
// was used for last: a micrometer goes on at the strip while the caliper is at the bore.
// False where it isn't plainly that.
func (p *Progress) byUse(asked int, r sessions.Reading) (Verdict, bool) {
	use, several := asked, false
	for _, a := range p.done {
		switch {
		case a.kind != tookReading || a.step < 0 || a.by == sessions.TypedInstrument:
		case a.by != r.Instrument:
			several = true
		case !a.doubted:
			use = a.step
		}
	}
	if use == asked || !several || !p.wants(use) || !p.plan.Steps[use].takes(r.Value) {
		return Verdict{}, false
	}
	v := p.judge(use, r)
	if v.Why == "" {
		v.Why = fmt.Sprintf("taken as the %s, for which the %s was used", v.Dimension, r.Instrument)
	}
	return v, v.State == sessions.Kept
}

// misplaced judges a reading outside the plausible range of the step asked for.
func (p *Progress) misplaced(i int, r sessions.Reading) Verdict {
	s := p.plan.Steps[i]
	a := taken(i, r)
	a.offered, a.doubted = p.rather(i, r.Value), true
	why := "outside the plausible range, " + s.text(s.Min) + " to " + s.text(s.Max)
	again := p.settles(a)
	if a.offered >= 0 && again {
		v := p.judge(a.offered, r)
		if v.Why == "" {
			v.Why = "not a plausible " + s.Dimension + ": sent again, it is the " + v.Dimension
		}
		return v
	}
	switch {
	case a.offered >= 0:
		why += ". Is this the " + p.plan.Steps[a.offered].Dimension + "? If so, send it again"
	case again:
		why += ". Sending it again doesn't settle that: skip it, or name a wider range in a plan of your own"
	}
	return Verdict{Dimension: s.Dimension, Step: s, State: sessions.Doubtful, Why: why, taken: a}
}

// rather returns another step that wants a reading of such a size, -1 for none: one that
// is measured in the same way, if there is one.
func (p *Progress) rather(than int, value float64) int {
	found := -1
	for i, s := range p.plan.Steps {
		if i == than || s.Kind == sessions.Count || !s.takes(value) || !p.wants(i) {
			continue
		}
		if s.Kind == p.plan.Steps[than].Kind {
			return i
		}
		if found < 0 {
			found = i
		}
	}
	return found
}

// judge judges a plausible reading of a step.
func (p *Progress) judge(i int, r sessions.Reading) Verdict {
	s := p.plan.Steps[i]
	v := Verdict{Dimension: s.Dimension, Step: s, State: sessions.Kept, taken: taken(i, r)}
	far, ok := p.outlying(v.taken)
	if !ok {
		return v
	}
	v.Why = "differs from an earlier reading, " + s.text(far) + ", by more than the instrument can explain"
	if p.settles(v.taken) {
		v.Why += "; a second reading agrees"
		return v
	}
	v.State, v.taken.doubted = sessions.Doubtful, true
	return v
}

// taken is the action of taking a reading for a step, -1 for the zero.
func taken(step int, r sessions.Reading) action {
	// A text that states a standard uncertainty states no limit. The limit that would
	// have given it is √3 times as large.
	return action{kind: tookReading, step: step, id: r.ID, by: r.Instrument, value: r.Value, limit: max(r.Limit, math.Sqrt(3)*r.U), digit: r.Step, offered: -1}
}

// takes tells whether a value is plausible for the step.
func (s Step) takes(v float64) bool { return v >= s.Min && v <= s.Max }

// explained is how far the instruments let two readings of one place lie apart.
func explained(a, b action) float64 {
	// The last bit of the floating point must not decide.
	return (a.limit + b.limit + max(a.digit, b.digit)) * (1 + 1e-9)
}

// outlying returns the standing reading of the step from which r differs most, if
// that is too much. Without a limit, digit or variation there is no rule.
func (p *Progress) outlying(r action) (float64, bool) {
	far, found := 0.0, false
	for _, a := range slices.Concat(p.earlier, p.done) {
		if !a.reads(r.step) || a.doubted {
			continue
		}
		room := explained(a, r) + p.plan.Steps[r.step].Vary
		if room == 0 || math.Abs(a.value-r.value) <= room {
			continue
		}
		if !found || math.Abs(a.value-r.value) > math.Abs(far-r.value) {
			far, found = a.value, true
		}
	}
	return far, found
}

// settles tells whether r agrees with a doubtful reading of the same place: one that
// was taken since the step's last standing reading.
func (p *Progress) settles(r action) bool {
	for n := len(p.done) - 1; n >= 0; n-- {
		a := p.done[n]
		if !a.reads(r.step) || !a.doubted {
			return false
		}
		if a.offered == r.offered && math.Abs(a.value-r.value) <= explained(a, r) {
			return true
		}
	}
	return false
}
