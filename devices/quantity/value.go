// Package quantity holds lengths and other measured values: their units, their
// uncertainty, and how both are read from text and digits to it. It is a leaf:
// it imports nothing of the project.
//
// Inside the program a length is metres and a time seconds; units appear only
// here, at the edge.
package quantity

import (
	"encoding/json"
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

// Interval is a value with the ends of its 95 % interval, as JSON shows it.
type Interval struct {
	V      float64 `json:"value"`  // estimate
	U      float64 `json:"u"`      // standard uncertainty
	Low95  float64 `json:"low95"`  // lower end of the 95 % interval
	High95 float64 `json:"high95"` // upper end of the 95 % interval
}

// Interval returns the value with the ends of its 95 % interval.
func (v Value) Interval() Interval { return Interval{v.V, v.U, v.Low95(), v.High95()} }

// MarshalJSON writes value and u, and the ends of the 95 % interval where a reader can't
// find them from u, because the factor isn't 1.96.
func (v Value) MarshalJSON() ([]byte, error) {
	if !v.tellable() || math.Abs(v.Half95()-Normal95*v.U) <= 1e-9*v.U {
		type plain Value // without this method
		return json.Marshal(plain(v))
	}
	return json.Marshal(v.Interval())
}

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

// digits are an estimate and half of its 95 % interval as text; the half is empty
// where there is no interval to tell.
type digits struct{ estimate, half string }

// told writes the value with the digits that the interval bears (two significant
// ones, JCGM 100:2008, 7.2.6) and none finer than step; 0 sets no limit.
func (v Value) told(step float64) digits {
	if !v.tellable() {
		return digits{estimate: "unknown"}
	}
	h := v.Half95()
	if !(h > 0) {
		exact := Minus(strconv.FormatFloat(v.V, 'g', 6, 64))
		if short := fixed(v.V, decimalsOf(step)); step > 0 && len(short) < len(exact) {
			exact = short
		}
		return digits{estimate: exact}
	}
	shown, d := digitsOf(h)
	if least := decimalsOf(step); step > 0 && d > least {
		return v.coarse(step, least)
	}
	if d > maxDecimals {
		places := 1
		if v.V != 0 {
			places = min(max(1, int(math.Floor(math.Log10(math.Abs(v.V)))+float64(d))), 16)
		}
		return digits{Minus(strconv.FormatFloat(v.V, 'e', places, 64)), Minus(strconv.FormatFloat(shown, 'e', 1, 64))}
	}
	x := v.V
	if shown >= 100 {
		// Digits before the point are no better than those behind it: 1234 ± 560 is
		// told as 1230 ± 560.
		place := math.Pow(10, math.Floor(math.Log10(shown))-1)
		x = math.Round(x/place) * place
	}
	return digits{fixed(x, d), fixed(shown, d)}
}

// coarse writes the value in whole steps. The half is rounded up, but for a tenth of a
// step, because the estimate is rounded too.
func (v Value) coarse(step float64, decimals int) digits {
	w := digits{estimate: fixed(v.V, decimals)}
	if h := v.Half95(); h >= step/2 {
		w.half = fixed(math.Ceil(h/step-0.1000001)*step, decimals)
	}
	return w
}

// fixed writes x to so many decimals, and nothing as "0" without a sign.
func fixed(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-") // −0.00 reads like a finding
	}
	return Minus(s)
}

// Text writes the value with its 95 % interval for a person: to the digits that the
// interval bears, and none finer than the trade has a use for, "1767 ± 8 mm". Where
// the interval is less than half of the last place, the value stands alone, sure to
// the digits it shows. A value that is no number is "unknown".
func (v Value) Text(unit string) string { return v.useful(unit).text(unit, "") }

// Signed is Text with a sign before the estimate, for rates and errors.
func (v Value) Signed(unit string) string { return v.useful(unit).text(unit, "+") }

// Full writes the value as Text does, but with all digits that its interval bears.
func (v Value) Full(unit string) string { return v.told(0).text(unit, "") }

// FullSigned is Full with a sign before the estimate.
func (v Value) FullSigned(unit string) string { return v.told(0).text(unit, "+") }

// Plain writes the estimate alone, with the digits that Text gives it; for a bare
// number beside a value already told with its interval.
func (v Value) Plain(unit string) string { return v.useful(unit).estimate }

// useful writes the value with the digits that a person can use of its unit. One that
// differs from nothing keeps two significant digits, however small: a wheel's 0.39 ms
// is not told as 0.4.
func (v Value) useful(unit string) digits {
	step := finestStep(unit, math.Abs(v.V))
	if size := math.Abs(v.V); v.Finite() && size > v.Half95() {
		step = min(step, math.Pow(10, math.Floor(math.Log10(size))-1))
	}
	return v.told(step)
}

// GainText says whether a clock gains or loses, for a rate in s/day. The two words are
// those of the sentence: "gains", "loses", or "gained", "lost".
func (v Value) GainText(gains, loses string) string {
	switch {
	case v.Covers(0):
		return gains + " or " + loses + " too little to tell yet: " + v.Signed("s/day")
	case v.V < 0:
		return loses + " " + v.Scale(-1).Text("s/day")
	}
	return gains + " " + v.Text("s/day")
}

// Minus writes the hyphens of a number that is printed for a person as minus signs.
func Minus(number string) string { return strings.ReplaceAll(number, "-", "−") }

func (w digits) text(unit, sign string) string {
	s := w.estimate
	if s == "unknown" {
		return s
	}
	if !strings.HasPrefix(s, "−") {
		s = sign + s
	}
	if w.half != "" {
		s += " ± " + w.half
	}
	return strings.TrimSpace(s + " " + unit)
}
