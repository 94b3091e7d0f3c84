package analysis

import (
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// ReadingU returns the standard uncertainty of one reading by itself, in its own
// unit: what its text stated, else its instrument's limit of error as a/√3 with one
// step of its display as step/√12 (JCGM 100:2008, 4.3.7). What was typed by hand has
// no display.
func ReadingU(r sessions.Reading) float64 {
	if r.U > 0 {
		return r.U
	}
	if r.Instrument == sessions.TypedInstrument {
		return r.Limit / math.Sqrt(3)
	}
	return math.Hypot(r.Limit/math.Sqrt(3), r.Step/math.Sqrt(12))
}

// TypedLength returns a typed length as a quantity: with the uncertainty that it
// states, else with what is assumed of such a dimension, which the notes tell.
func TypedLength(dimension string, l quantity.Length, o SpringOptions) (q uncertainty.Quantity, notes []string) {
	g := gathering{o: o}
	return *g.typed(dimension, l.Number()), g.told()
}
