// Package force decodes what force and torque gauges send.
package force

import (
	"strconv"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// TextForce describes lines with one force or torque, in the form of text-length:
//
//	[ identifier blank ] [ unit ] [ sign ] number [ unit ] [ status ]
//
// The unit is N, kgf, gf, ozf, Nm or Nmm in any case, and must be there. "12.5 N" is
// 12.5 N, "1.2kgf" 11.76798 N. Values are in newtons or newton metres. Common
// practice, no source.
func TextForce() devices.Format {
	return devices.Format{
		Name: "text-force", Title: "force or torque as a line of text", Instrument: "force",
		New: func(quantity.Unit) devices.Decoder { return lines.NewDecoder(textForce) },
		Recognition: devices.Recognition{
			Rank: devices.RankNamed, Frames: 2, WeighText: lines.Alike, Need: devices.NeedShape,
		},
	}
}

const (
	maxDigits = 12
	// maxForce bounds what a gauge of the bench shows, in newtons or newton metres.
	maxForce = 1e5
)

// unit is a unit of force or torque.
type unit struct {
	name string
	dim  devices.Dimension
	size float64 // in newtons or newton metres
}

// units lists the units. A kilogram force is 9.80665 N by definition (3rd CGPM,
// 1901); the ounce is that of 28.349523125 g (international pound, 1959). A unit that
// another begins with stands behind it.
func units() []unit {
	return []unit{
		{"Nmm", devices.DimTorque, 1e-3},
		{"kgf", devices.DimForce, 9.80665},
		{"ozf", devices.DimForce, 0.028349523125 * 9.80665},
		{"gf", devices.DimForce, 9.80665e-3},
		{"Nm", devices.DimTorque, 1},
		{"N", devices.DimForce, 1},
	}
}

func textForce(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	var names []string
	for _, u := range units() {
		names = append(names, u.name)
	}
	number, name, ok := lines.Quantity(string(lines.Trim(line)), names, maxDigits)
	if !ok {
		return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
	}
	if name == "" {
		return append(dst, lines.Fault(at, devices.FaultNoUnit, line, "switch the instrument to send its unit"))
	}
	number = strings.Replace(number, ",", ".", 1)
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
	}
	step := 1.0
	if _, decimals, ok := strings.Cut(number, "."); ok {
		step, err = strconv.ParseFloat("1e-"+strconv.Itoa(len(decimals)), 64)
	}
	for _, u := range units() {
		if !strings.EqualFold(u.name, name) {
			continue
		}
		f := v*u.size + 0 // no negative zero
		if err != nil || f > maxForce || f < -maxForce {
			return append(dst, lines.Fault(at, devices.FaultRange, line, "more than any such instrument shows"))
		}
		return append(dst, devices.Said{Kind: devices.KindReading, At: at, Text: string(line),
			Reading: devices.Reading{Value: f, Step: step * u.size, Dim: u.dim}})
	}
	return dst
}
