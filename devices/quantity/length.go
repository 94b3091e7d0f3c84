package quantity

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"
)

// Unit is a unit of length. The zero value names none.
type Unit uint8

// The units of length that are read and written.
const (
	NoUnit Unit = iota
	Millimetre
	Centimetre
	Metre
	Micrometre
	Inch
	Thou
)

// unitTable: an inch is 25.4 mm exactly (international yard, 1959), a thou a
// thousandth of it. Factors are exact so that nothing is lost before the last step.
var unitTable = [...]struct {
	name string
	rat  *big.Rat
	size float64
}{
	NoUnit:     {"", big.NewRat(0, 1), 0},
	Millimetre: {"mm", big.NewRat(1, 1000), 1e-3},
	Centimetre: {"cm", big.NewRat(1, 100), 1e-2},
	Metre:      {"m", big.NewRat(1, 1), 1},
	Micrometre: {"µm", big.NewRat(1, 1000000), 1e-6},
	Inch:       {"in", big.NewRat(254, 10000), 0.0254},
	Thou:       {"thou", big.NewRat(254, 10000000), 0.0000254},
}

// String returns the unit's sign: "mm", "in".
func (u Unit) String() string {
	if int(u) < len(unitTable) {
		return unitTable[u].name
	}
	return fmt.Sprintf("unit(%d)", uint8(u))
}

// Metres returns the size of one of the unit, in metres; 0 for NoUnit.
func (u Unit) Metres() float64 {
	if int(u) < len(unitTable) {
		return unitTable[u].size
	}
	return 0
}

// ParseUnit reads the sign of a unit of length, in any case: mm, cm, m, µm (or
// um), in (or " or inch), thou. It reports false for anything else.
func ParseUnit(s string) (Unit, bool) {
	switch strings.ToLower(s) {
	case "mm":
		return Millimetre, true
	case "cm":
		return Centimetre, true
	case "m":
		return Metre, true
	case "µm", "μm", "um":
		return Micrometre, true
	case "in", `"`, "″", "”", "inch", "''":
		return Inch, true
	case "thou":
		return Thou, true
	}
	return NoUnit, false
}

// Length is a length as it was written.
type Length struct {
	Metres float64
	// U is the standard uncertainty in metres that the text states; Stated tells
	// whether it does.
	U      float64
	Stated bool
	// Rectangular tells that the text states a limit of error ("±"), so that U is
	// the limit over √3; else U is a standard uncertainty ("(6)").
	Rectangular bool
	Unit        Unit
	// Step is one of the last decimal written, in metres; 0 for a fraction.
	Step float64
	Text string
}

// ErrNoUnit is the cause of the error for a length without a unit.
var ErrNoUnit = errors.New("no unit")

const (
	maxLengthText = 64
	// MaxLength is the longest length taken, in metres: anything longer is a slip.
	MaxLength = 1e4
)

var (
	numberRE = `(\d+(?:[.,]\d*)?|[.,]\d+)`
	lengthRE = regexp.MustCompile(`^([+-]?)\s*(?:(?:(\d+)[\s-]+)?(\d+)/(\d+)|` + numberRE + `)` +
		`\s*([^\d\s.,()±+-][^\d\s.,()±+-]*)?\s*` +
		`(?:\((\d+)\)|(?:±|\+-|\+/-)\s*` + numberRE + `)?` +
		`\s*([^\d\s.,()±+-][^\d\s.,()±+-]*)?$`)
)

// ParseLength reads a length such as 63.5mm, 6,35 cm, 2.5in, 2-1/2", 5/8in,
// 22thou, 0.56±0.01mm (limit of error: u = 0.01 mm/√3) or 0.560(6)mm (standard
// uncertainty in the last digits, JCGM 100:2008, 7.2.2). A text without a unit is
// taken in assume; if that is NoUnit the error wraps ErrNoUnit. Sums are exact
// rationals up to the last step. The sign is kept: what a negative length means
// is the caller's to say.
func ParseLength(text string, assume Unit) (Length, error) {
	s := strings.TrimSpace(text)
	if s == "" {
		return Length{}, errors.New("empty: write a length such as 63.5mm")
	}
	if len(s) > maxLengthText {
		return Length{}, fmt.Errorf("%.20q… is no length: more than %d characters", s, maxLengthText)
	}
	m := lengthRE.FindStringSubmatch(s)
	if m == nil {
		return Length{}, fmt.Errorf("%q is no length: write it like 63.5mm, 2.5in, 5/8in, 22thou or 0.56±0.01mm", s)
	}
	sign, whole, num, den, dec, unit1, digits, limit, unit2 := m[1], m[2], m[3], m[4], m[5], m[6], m[7], m[8], m[9]
	unitText := unit1
	if unitText == "" || unit2 != "" {
		if unit1 != "" && !strings.EqualFold(unit1, unit2) {
			return Length{}, fmt.Errorf("%q has two units, %s and %s: write one", s, unit1, unit2)
		}
		unitText = unit2
	}
	u := assume
	if unitText != "" {
		var ok bool
		if u, ok = ParseUnit(unitText); !ok {
			return Length{}, fmt.Errorf("%q: unit %q is not known: use mm, cm, m, um, in or thou", s, unitText)
		}
	}
	if u == NoUnit {
		return Length{}, fmt.Errorf("%s has %w: write %smm or %sin", s, ErrNoUnit, s, s)
	}

	var value, step *big.Rat
	if dec != "" {
		value, step = decimal(dec)
	} else {
		n, _ := new(big.Int).SetString(num, 10)
		d, _ := new(big.Int).SetString(den, 10)
		if d.Sign() == 0 {
			return Length{}, fmt.Errorf("%q divides by zero", s)
		}
		value = new(big.Rat).SetFrac(n, d)
		if whole != "" {
			w, _ := new(big.Rat).SetString(whole)
			value.Add(value, w)
		}
	}
	if sign == "-" {
		value.Neg(value)
	}
	l := Length{Unit: u, Text: text, Metres: metres(value, u)}
	if step != nil {
		l.Step = metres(step, u)
	}
	switch {
	case digits != "":
		if step == nil {
			return Length{}, fmt.Errorf("%q: (%s) counts last decimals, and a fraction has none: write ± instead", s, digits)
		}
		n, _ := new(big.Rat).SetString(digits)
		l.U, l.Stated = metres(n.Mul(n, step), u), true
	case limit != "":
		a, _ := decimal(limit)
		l.U, l.Stated, l.Rectangular = metres(a, u)/math.Sqrt(3), true, true
	}
	if math.Abs(l.Metres) > MaxLength || l.U > MaxLength {
		return Length{}, fmt.Errorf("%q is longer than %g km: was the unit meant?", s, MaxLength/1000)
	}
	return l, nil
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

// System is the choice of units in which lengths are written.
type System uint8

// The systems: millimetres, inches, or millimetres with inches behind.
const (
	Metric System = iota
	Imperial
	Both
)

// ParseSystem reads mm, in or both.
func ParseSystem(s string) (System, error) {
	switch strings.ToLower(s) {
	case "mm":
		return Metric, nil
	case "in":
		return Imperial, nil
	case "both":
		return Both, nil
	}
	return Metric, fmt.Errorf("units %q are not known: use mm, in or both", s)
}

// Assume returns the unit for lengths typed without one, where the user has said
// which units are meant: NoUnit for Both.
func (s System) Assume() Unit {
	switch s {
	case Metric:
		return Millimetre
	case Imperial:
		return Inch
	}
	return NoUnit
}

// Length writes a length with its 95 % interval in the system's units:
// "63.50 ± 0.02 mm", "2.5000 ± 0.0008 in".
func (s System) Length(v Value) string {
	mm := v.Scale(1e3).Text("mm")
	in := v.Scale(1 / Inch.Metres()).Text("in")
	switch s {
	case Imperial:
		return in
	case Both:
		return mm + " (" + in + ")"
	}
	return mm
}

// Size writes a bare length, without interval, to the given decimals of a
// millimetre and one more of an inch.
func (s System) Size(m float64, decimals int) string {
	mm := strconv.FormatFloat(m*1e3, 'f', decimals, 64) + " mm"
	in := strconv.FormatFloat(m/Inch.Metres(), 'f', max(1, decimals+1), 64) + " in"
	switch s {
	case Imperial:
		return in
	case Both:
		return mm + " (" + in + ")"
	}
	return mm
}
