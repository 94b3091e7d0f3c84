package plan

import (
	"math"

	"evenbeat/sessions"
)

// Zero is the dimension of a closed-jaws reading.
const Zero = sessions.ZeroDimension

const (
	// undoWithin: a reading this near to zero, in metres, means "undo the last one".
	undoWithin = 0.05e-3
	// zeroWithin: a reading this near to zero, before any other, is the zero error.
	zeroWithin = sessions.ZeroWithin
)

// IsUndo tells whether v metres is what closed jaws send: within 0.05 mm of zero.
// That means "undo the last one", so that oily hands need touch nothing but the
// instrument.
func IsUndo(v float64) bool { return math.Abs(v) <= undoWithin }

// Verdict is what a reading is taken for.
type Verdict struct {
	Undo      bool // no reading: the jaws were closed to undo the last one
	Done      bool // the plan is through and asks for nothing more
	Dimension string
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
//   - A reading outside the step's plausible range is doubtful.
//   - So is one that differs from a standing reading of the step by more than
//     a + b + e + w: the two readings' limits of error, one of the last digit, and
//     what the step allows the part itself to vary.
//   - A doubtful reading is asked for again. A repeat within a + b + e of it settles
//     the doubt, and stands. The doubtful one stays doubtful, so that one place isn't
//     counted twice.
func (p *Progress) Judge(r sessions.Reading) Verdict {
	i := p.current()
	if i < 0 {
		return Verdict{Undo: IsUndo(r.Value) && p.begun(), Done: true}
	}
	s := p.plan.Steps[i]
	// A text that states a standard uncertainty states no limit. The limit that would
	// have given it is √3 times as large.
	taken := action{kind: tookReading, step: i, value: r.Value, limit: max(r.Limit, math.Sqrt(3)*r.U), digit: r.Step}
	plausible := r.Value >= s.Min && r.Value <= s.Max
	if !plausible && s.Kind != sessions.Count {
		if !p.begun() && math.Abs(r.Value) <= zeroWithin {
			taken.step = -1
			return Verdict{Dimension: Zero, State: sessions.Kept, taken: taken}
		}
		if IsUndo(r.Value) {
			return Verdict{Undo: true}
		}
	}
	why := ""
	if !plausible {
		why = "outside the plausible range, " + s.text(s.Min) + " to " + s.text(s.Max)
	} else if far, ok := p.outlying(taken); ok {
		why = "differs from an earlier reading, " + s.text(far) + ", by more than the instrument explains"
	}
	v := Verdict{Dimension: s.Dimension, State: sessions.Kept, taken: taken}
	switch {
	case why == "":
	case p.settles(taken):
		v.Why = why + "; a second reading agrees"
	default:
		v.State, v.Why = sessions.Doubtful, why
		v.taken.doubted = true
	}
	return v
}

// explained is how far the instruments let two readings of one place lie apart.
func explained(a, b action) float64 {
	// The last bit of the floating point must not decide.
	return (a.limit + b.limit + max(a.digit, b.digit)) * (1 + 1e-9)
}

// outlying returns the standing reading of the step from which r differs most, if
// that is too much. Without a limit, digit or variation there is no rule.
func (p *Progress) outlying(r action) (float64, bool) {
	far, found := 0.0, false
	for _, a := range p.done {
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
		if math.Abs(a.value-r.value) <= explained(a, r) {
			return true
		}
	}
	return false
}
