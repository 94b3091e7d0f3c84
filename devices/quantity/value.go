// Package quantity holds lengths and other measured values: their units, their
// uncertainty, and how both are read from text and written to it. It is a leaf:
// it imports nothing of the project.
//
// Inside the program a length is metres and a time seconds; units appear only
// here, at the edge.
package quantity

import (
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

// tellable is Finite and an interval that is one too: K·U may overflow.
func (v Value) tellable() bool { return v.Finite() && !math.IsInf(v.Half95(), 0) }

// digitsOf returns x rounded to two significant digits, and the decimals that show
// them: 0 when the last of the two stands before the point. x must be above 0 and
// finite.
func digitsOf(x float64) (rounded float64, decimals int) {
	// FormatFloat rounds before the exponent is read, so that 0.0996 shows as 0.10
	// and not with three digits as 0.100.
	text := strconv.FormatFloat(x, 'e', 1, 64)
	rounded, _ = strconv.ParseFloat(text, 64)
	exp, _ := strconv.Atoi(text[strings.IndexByte(text, 'e')+1:])
	return rounded, max(0, 1-exp)
}

// maxDecimals is where fixed notation ends: a smaller interval needs an exponent.
const maxDecimals = 9

// numbers returns the estimate and half of its 95 % interval, both with the digits
// that the interval bears (two significant ones, JCGM 100:2008, 7.2.6). The half
// is empty where there is no interval.
func (v Value) numbers() (estimate, half string) {
	h := v.Half95()
	if !(h > 0) {
		return strconv.FormatFloat(v.V, 'g', 6, 64), ""
	}
	h, d := digitsOf(h)
	if d > maxDecimals {
		places := 1
		if v.V != 0 {
			places = min(max(1, int(math.Floor(math.Log10(math.Abs(v.V)))+float64(d))), 16)
		}
		return strconv.FormatFloat(v.V, 'e', places, 64), strconv.FormatFloat(h, 'e', 1, 64)
	}
	x := v.V
	if h >= 100 {
		// Digits before the point are no better than those behind it: 1234 ± 560 is
		// told as 1230 ± 560.
		place := math.Pow(10, math.Floor(math.Log10(h))-1)
		x = math.Round(x/place) * place
	}
	estimate = strconv.FormatFloat(x, 'f', d, 64)
	if strings.Trim(estimate, "-0.") == "" {
		estimate = strings.TrimPrefix(estimate, "-") // -0.00 reads like a finding
	}
	return estimate, strconv.FormatFloat(h, 'f', d, 64)
}

// Text writes the value with its 95 % interval, to the digits that the interval
// bears: "1767.1 ± 8.4 mm". A value that is no number is "unknown".
func (v Value) Text(unit string) string { return v.text(unit, "") }

// Signed is Text with a sign before the estimate, for rates and errors.
func (v Value) Signed(unit string) string { return v.text(unit, "+") }

func (v Value) text(unit, sign string) string {
	if !v.tellable() {
		return "unknown"
	}
	s, half := v.numbers()
	if s[0] != '-' {
		s = sign + s
	}
	if half != "" {
		s += " ± " + half
	}
	return strings.TrimSpace(s + " " + unit)
}

// Plain writes the estimate alone, with as many digits as its 95 % interval bears;
// for a bare number beside a value already told with its interval.
func (v Value) Plain() string {
	if !v.tellable() {
		return "unknown"
	}
	s, _ := v.numbers()
	return s
}
