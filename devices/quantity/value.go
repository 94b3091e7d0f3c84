// Package quantity holds lengths and other measured values: their units, their
// uncertainty, and how both are read from text and written to it. It is a leaf:
// it imports nothing of the project.
//
// Inside the program a length is metres and a time seconds; units appear only
// here, at the edge.
package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Normal95 is the coverage factor of a normal distribution for 95 %.
const Normal95 = 1.959963984540054

// Value is an estimate with its standard uncertainty, both in SI units or in the
// unit that the field's name gives.
type Value struct {
	V float64 `json:"value"`
	U float64 `json:"u"`
	// K is the coverage factor for 95 %: the 95 % interval is V ± K·U. Zero means
	// a normal distribution, 1.96. Few readings make it larger (Student), one
	// ruling rectangular input smaller (1.65 at the least).
	K float64 `json:"-"`
}

// Half95 returns the half-width of the 95 % interval.
func (v Value) Half95() float64 {
	if v.K > 0 {
		return v.K * v.U
	}
	return Normal95 * v.U
}

// Low95 returns the lower end of the 95 % interval.
func (v Value) Low95() float64 { return v.V - v.Half95() }

// High95 returns the upper end of the 95 % interval.
func (v Value) High95() float64 { return v.V + v.Half95() }

// Covers reports whether the 95 % interval holds x.
func (v Value) Covers(x float64) bool { return math.Abs(x-v.V) <= v.Half95() }

// Scale returns the value in another unit: f of the new unit make one of the old.
func (v Value) Scale(f float64) Value {
	return Value{V: v.V * f, U: v.U * math.Abs(f), K: v.K}
}

// Finite reports whether estimate and uncertainty are numbers that can be told.
func (v Value) Finite() bool {
	return !math.IsNaN(v.V) && !math.IsInf(v.V, 0) && !math.IsNaN(v.U) && !math.IsInf(v.U, 0)
}

// decimals returns how many decimals show u to two significant digits, and never
// more than most.
func decimals(u float64, most int) int {
	if !(u > 0) || math.IsInf(u, 0) {
		return most
	}
	return min(max(0, 1-int(math.Floor(math.Log10(u)))), most)
}

// Text writes the value with its 95 % interval, to the digits that the interval
// bears: "1767.1 ± 8.4 mm".
func (v Value) Text(unit string) string { return v.text(unit, "") }

// Signed is Text with a sign before the estimate, for rates and errors.
func (v Value) Signed(unit string) string { return v.text(unit, "+") }

func (v Value) text(unit, sign string) string {
	h := v.Half95()
	if !v.Finite() {
		return "unknown"
	}
	if !(h > 0) {
		return strings.TrimSpace(fmt.Sprintf("%"+sign+".6g %s", v.V, unit))
	}
	d := decimals(h, 9)
	s := fmt.Sprintf("%"+sign+".*f ± %.*f", d, v.V, d, h)
	if unit == "" {
		return s
	}
	return s + " " + unit
}

// Plain writes x with as many decimals as the 95 % interval of v bears; for a
// bare number beside a value already told with its interval.
func (v Value) Plain() string {
	return strconv.FormatFloat(v.V, 'f', decimals(v.Half95(), 9), 64)
}
