package quantity

import (
	"fmt"
	"math/big"
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
	case "µm", "μm", "um": // micro sign and Greek letter look alike and both are typed
		return Micrometre, true
	case "in", `"`, "″", "”", "inch", "''":
		return Inch, true
	case "thou":
		return Thou, true
	}
	return NoUnit, false
}
