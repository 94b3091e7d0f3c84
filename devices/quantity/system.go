package quantity

import (
	"fmt"
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

// Length writes a length with its 95 % interval in the system's units, to the digits
// that Value.Text gives it: "63.50 ± 0.02 mm", "2.500 ± 0.001 in".
func (s System) Length(v Value) string { return s.length(v, Value.Text) }

// FullLength is Length with all digits that the interval bears.
func (s System) FullLength(v Value) string { return s.length(v, Value.Full) }

func (s System) length(v Value, write func(v Value, unit string) string) string {
	mm := write(v.Scale(1e3), "mm")
	in := write(v.Scale(1/Inch.Metres()), "in")
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
	mm := fixed(m*1e3, decimals) + " mm"
	in := fixed(m/Inch.Metres(), max(1, decimals+1)) + " in"
	switch s {
	case Imperial:
		return in
	case Both:
		return mm + " (" + in + ")"
	}
	return mm
}
