package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Number is a number as it was written, in whatever unit its owner names.
type Number struct {
	V float64
	// U is the standard uncertainty that the text states. Stated says whether it does,
	// and Rectangular whether it was a limit of error ("±").
	U                   float64
	Stated, Rectangular bool
}

// Times returns the number in another unit: f of the new unit make one of the old.
func (n Number) Times(f float64) Number {
	n.V, n.U = n.V*f, n.U*f
	return n
}

// Turns writes a number of turns to so many digits, -1 for as many as it has:
// "1 turn", "−8.25 turns".
func Turns(n float64, digits int) string {
	s := Minus(strconv.FormatFloat(n, 'g', digits, 64))
	if s == "1" || s == "−1" {
		return s + " turn"
	}
	return s + " turns"
}

// SignedTurns is Turns with a plus before what is not negative: "+0.5 turns".
func SignedTurns(n float64, digits int) string {
	if n >= 0 {
		return "+" + Turns(n, digits)
	}
	return Turns(n, digits)
}

// ParseCount reads a bare number, such as teeth or coils (which need not be whole),
// in the forms that ParseLength knows: 13, 13.75,
// 13 3/4, 13.75±0.25 (limit of error) or 13.8(2) (standard uncertainty). A unit is
// refused, and so is a number that is not above 0.
func ParseCount(text string) (Number, error) {
	c, s, err := bareNumber(text, "count", "13, 13.75, 13-3/4 or 13.75±0.25")
	if err != nil {
		return Number{}, err
	}
	if !(c.V > 0 && c.V <= MaxCount) || c.U > MaxCount {
		return Number{}, fmt.Errorf("%q: a count must be above 0 and at most %.0f", s, MaxCount)
	}
	return c, nil
}

// ParseTurns reads turns of a nut, signed, in the forms that ParseLength knows: -0.5,
// 0,25, 1/4 or -1 1/2. A unit and an uncertainty are refused. How many turns there may
// be is the caller's to say.
func ParseTurns(text string) (float64, error) {
	n, s, err := bareNumber(text, "number of turns", "-0.5, 1/4 or 1 1/2")
	if err == nil && n.Stated {
		err = fmt.Errorf("%q has an uncertainty: a number of turns has none", s)
	}
	return n.V, err
}

// bareNumber reads a number without a unit, and returns its plain form too. what and form
// tell the reader what it should have been.
func bareNumber(text, what, form string) (n Number, s string, err error) {
	s, m, err := written(text, what, form)
	if err != nil {
		return Number{}, s, err
	}
	if m[6] != "" || m[9] != "" {
		return Number{}, s, fmt.Errorf("%q has a unit: a %s is a bare number", s, what)
	}
	value, step, err := lengthNumber(s, m[1], m[2], m[3], m[4], m[5])
	if err != nil {
		return Number{}, s, err
	}
	u, rectangular, err := statedError(s, m[7], m[8], step)
	if err != nil {
		return Number{}, s, err
	}
	n = Number{Stated: u != nil, Rectangular: rectangular}
	n.V, _ = value.Float64()
	if u != nil {
		n.U, _ = u.Float64()
	}
	if rectangular {
		n.U /= math.Sqrt(3)
	}
	return n, s, nil
}

// ParseDegrees reads an angle in degrees, above 0 and at most a full turn, in the forms
// that ParseCount knows, with "°" or "deg" behind it or without.
func ParseDegrees(text string) (Number, error) {
	bare := strings.TrimSpace(text)
	bare = strings.TrimSuffix(strings.TrimSuffix(bare, "°"), "deg")
	n, err := ParseCount(bare)
	if err != nil || n.V > 360 {
		return Number{}, fmt.Errorf("%q is not an angle up to 360°: write it like 1.9° or 1.9±0.1°", text)
	}
	return n, nil
}
