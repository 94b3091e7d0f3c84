package quantity

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strings"
	"sync"
)

// Length is a length as it was written.
type Length struct {
	Metres float64
	// U is the standard uncertainty in metres that the text states. Stated says
	// whether it does.
	U      float64
	Stated bool
	// Rectangular is true if the text states a limit of error ("±"), and U is the
	// limit over √3. Otherwise U is a standard uncertainty ("(6)").
	Rectangular bool
	Unit        Unit
	// Step is one of the last decimal written, in metres; 0 for a fraction.
	Step float64
	Text string
}

// Number returns the length in metres without its unit and text.
func (l Length) Number() Number {
	return Number{V: l.Metres, U: l.U, Stated: l.Stated, Rectangular: l.Rectangular}
}

// ErrNoUnit is the cause of the error for a length without a unit.
var ErrNoUnit = errors.New("no unit")

const maxLengthText = 64

const (
	numberForm = `(\d+(?:[.,]\d*)?|[.,]\d+)`
	unitForm   = `([^\d\s.,()±/+-]+)`
)

// lengthRE groups: sign, whole inches, numerator, denominator, decimal, unit,
// digits in brackets, limit of error, unit behind it. A unit stands a second time
// only behind an uncertainty: "63.5 m m" is a slip of the hand, not a length.
// It is compiled when the first length is read: that takes longer than many a command.
var lengthRE = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^([+-]?)\s*` +
		`(?:(?:(\d+)(?:\s+|\s*-\s*))?(\d+)/(\d+)|` + numberForm + `)` +
		`\s*` + unitForm + `?` +
		`(?:\s*(?:\((\d+)\)|(?:±|\+-|\+/-)\s*` + numberForm + `)\s*` + unitForm + `?)?$`)
})

var exponentRE = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[+-]?[\d.,]+[eE][+-]?\d`) })

// plainSigns replaces the blanks and minus signs of word processors and web pages.
var plainSigns = strings.NewReplacer("\u00a0", " ", "\u2009", " ", "\u202f", " ", "\u2212", "-")

// ParseLength reads a length such as 63.5mm, 6,35 cm, 2.5in, 2-1/2", 5/8in,
// 22thou, 0.56±0.01mm (limit of error: u = 0.01 mm/√3) or 0.560(6)mm (standard
// uncertainty in the last digits, JCGM 100:2008, 7.2.2). A text without a unit is
// taken in assume; if that is NoUnit the error wraps ErrNoUnit. Sums are exact
// rationals up to the last step. The sign is kept: what a negative length means
// is the caller's to say.
func ParseLength(text string, assume Unit) (Length, error) {
	s, m, err := written(text, "length", "63.5mm, 2.5in, 5/8in, 22thou or 0.56±0.01mm")
	if err != nil {
		return Length{}, err
	}
	unit, err := lengthUnit(s, m[6], m[9], assume)
	if err != nil {
		return Length{}, err
	}
	value, step, err := lengthNumber(s, m[1], m[2], m[3], m[4], m[5])
	if err != nil {
		return Length{}, err
	}
	u, rectangular, err := statedError(s, m[7], m[8], step)
	if err != nil {
		return Length{}, err
	}
	l := Length{Unit: unit, Text: text, Metres: metres(value, unit)}
	if step != nil {
		l.Step = metres(step, unit)
	}
	if u != nil {
		l.U, l.Stated, l.Rectangular = metres(u, unit), true, rectangular
	}
	if rectangular {
		l.U /= math.Sqrt(3)
	}
	if math.Abs(l.Metres) > MaxLength || l.U > MaxLength {
		return Length{}, fmt.Errorf("%q is longer than %g km: was the unit meant?", s, MaxLength/1000)
	}
	return l, nil
}

// written brings text into the plain form and cuts it into the groups of lengthRE.
// what and form tell the reader what it should have been.
func written(text, what, form string) (s string, groups []string, err error) {
	s = strings.Join(strings.Fields(plainSigns.Replace(text)), " ")
	first, _, _ := strings.Cut(form, ",")
	switch {
	case s == "":
		return "", nil, fmt.Errorf("empty: write a %s such as %s", what, first)
	case len(s) > maxLengthText:
		return "", nil, fmt.Errorf("%.20q… is no %s: more than %d characters", s, what, maxLengthText)
	case exponentRE().MatchString(s):
		return "", nil, fmt.Errorf("%q has an exponent: write the number out, like 0.001", s)
	}
	if groups = lengthRE().FindStringSubmatch(s); groups == nil {
		return "", nil, fmt.Errorf("%q is no %s: write it like %s", s, what, form)
	}
	return s, groups, nil
}

// statedError returns the uncertainty that s states, in its own unit: a standard one
// from digits in brackets, or a limit, which is rectangular; nil for none.
func statedError(s, digits, limit string, step *big.Rat) (u *big.Rat, rectangular bool, err error) {
	switch {
	case digits != "" && step == nil:
		return nil, false, fmt.Errorf("%q: (%s) counts last decimals, and a fraction has none: write ± instead", s, digits)
	case digits != "":
		n, _ := new(big.Rat).SetString(digits)
		return n.Mul(n, step), false, nil
	case limit != "":
		a, _ := decimal(limit)
		return a, true, nil
	}
	return nil, false, nil
}

// lengthUnit chooses the unit of s from those written before and behind its
// uncertainty, either of which may be missing.
func lengthUnit(s, before, behind string, assume Unit) (Unit, error) {
	unit := assume
	for i, text := range []string{before, behind} {
		if text == "" {
			continue
		}
		u, ok := ParseUnit(text)
		if !ok {
			return NoUnit, fmt.Errorf("%q: unit %q is not known: use mm, cm, m, um, in or thou", s, text)
		}
		if i == 1 && before != "" && u != unit {
			return NoUnit, fmt.Errorf("%q has two units, %s and %s: write one", s, unit, u)
		}
		unit = u
	}
	if unit.Metres() == 0 {
		return NoUnit, fmt.Errorf("%s has %w: write %smm or %sin, or give --units for all", s, ErrNoUnit, s, s)
	}
	return unit, nil
}

// lengthNumber returns the number of s, and the size of its last decimal; nil for
// a fraction, which has none.
func lengthNumber(s, sign, whole, num, den, dec string) (value, step *big.Rat, err error) {
	if dec != "" {
		value, step = decimal(dec)
	} else {
		n, _ := new(big.Rat).SetString(num)
		d, _ := new(big.Rat).SetString(den)
		if d.Sign() == 0 {
			return nil, nil, fmt.Errorf("%q divides by zero: was the fraction meant the other way round?", s)
		}
		value = n.Quo(n, d)
		if whole != "" {
			w, _ := new(big.Rat).SetString(whole)
			value.Add(value, w)
		}
	}
	if sign == "-" {
		value.Neg(value)
	}
	return value, step, nil
}

// decimal returns a number written with point or comma, and the size of its last
// digit.
func decimal(s string) (value, step *big.Rat) {
	s = strings.Replace(s, ",", ".", 1)
	places := 0
	if i := strings.IndexByte(s, '.'); i >= 0 {
		places = len(s) - i - 1
	}
	value, _ = new(big.Rat).SetString(strings.TrimSuffix(s, "."))
	ten := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(places)), nil)
	return value, new(big.Rat).SetFrac(big.NewInt(1), ten)
}

func metres(r *big.Rat, u Unit) float64 {
	f, _ := new(big.Rat).Mul(r, unitTable[u].rat).Float64()
	return f
}
