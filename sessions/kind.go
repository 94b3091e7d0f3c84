package sessions

import "evenbeat/devices/quantity"

// Kind is how a dimension is taken. It decides which of an instrument's limits of
// error holds, and which readings share one error.
type Kind string

// The kinds of measurement.
const (
	Outside Kind = "outside" // between the outside jaws: arbor, strip
	Inside  Kind = "inside"  // with the inside jaws: bore
	Depth   Kind = "depth"   // with the depth rod
	Typed   Kind = "typed"   // a length read off something else, and typed
	Count   Kind = "count"   // counted and typed, a bare number
)

// Kinds lists every kind.
func Kinds() []Kind { return []Kind{Outside, Inside, Depth, Typed, Count} }

// UsualKind returns how a dimension of that name is usually taken. It serves where
// nobody recorded how: books up to layout 3, imports without the column, and sizes
// given for one question.
func UsualKind(dimension string) Kind {
	switch dimension {
	case "bore", "inner", "hole":
		return Inside
	case "depth", "reach":
		return Depth
	case "length":
		return Typed
	case "coils", "free-coils", "teeth", "leaves", "set-up", "stop-turns", "fusee-turns", "chain-turns", Amplitude:
		return Count
	}
	return Outside
}

// The forms of an uncertainty that a reading's text states, as the column u_form of the
// book and of tables names them.
const (
	FormLimit    = "limit"    // of error: "±"
	FormStandard = "standard" // uncertainty, in the last digits: "(6)"
)

// UForm returns the form of the uncertainty that the reading's text states; "" for none.
func (r Reading) UForm() string {
	switch {
	case r.U == 0:
		return ""
	case r.Rectangular:
		return FormLimit
	}
	return FormStandard
}

// StatesLimit tells whether a text states its uncertainty as a limit of error. It
// serves where nobody recorded the form, as UsualKind does for the kind. The size
// doesn't matter here, so millimetres do for a text without a unit.
func StatesLimit(text string) bool {
	l, err := quantity.ParseLength(text, quantity.Millimetre)
	return err == nil && l.Rectangular
}
