package quantity

import (
	"fmt"
	"strconv"
	"strings"
)

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
