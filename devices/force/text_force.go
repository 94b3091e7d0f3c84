// Package force decodes what force and torque gauges send.
package force

import (
	"strconv"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// TextForceFormat describes the wire format.
func TextForceFormat() devices.Format {
	return devices.Format{
		Name: "text-force", Title: "force or torque as a line of text", Instrument: "force",
		New: func(quantity.Unit) devices.Decoder { return new(TextForce) },
		Recognition: devices.Recognition{
			Rank: devices.RankNamed, Frames: 2, WeighText: lines.Alike, Need: devices.NeedShape,
		},
	}
}

// TextForce decodes a line with one force or torque, in the form of text-length:
//
//	[ identifier blank ] [ unit ] [ sign ] number [ unit ] [ status ]
//
// The unit is N, kgf, gf, ozf, Nm or Nmm in any case, and must be there. "12.5 N"
// is 12.5 N, "1.2kgf" 11.76798 N. Common practice, no source.
//
// A reading carries the stamp of its line's first byte and the line as received;
// its value is in newton or newton metre. Lines that are neither come back as
// faults with their text. Between calls it holds one line. The zero value is ready.
type TextForce struct{ framer lines.Framer }

// Decode appends to dst the readings and faults that c completes.
func (d *TextForce) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	return d.framer.Decode(dst, c, line)
}

// Flush appends an unfinished line to dst, as a fault.
func (d *TextForce) Flush(dst []devices.Said) []devices.Said { return d.framer.Flush(dst) }

const (
	maxDigits = 12
	// maxForce bounds what a gauge of the bench shows, in newton or newton metre.
	maxForce = 1e5
)

// units are those that are taken, the longer before those that they begin with.
var units = []string{"Nmm", "kgf", "ozf", "gf", "Nm", "N"}

func line(dst []devices.Said, received []byte, at devices.Stamp) []devices.Said {
	number, name, ok := lines.Quantity(string(lines.Trim(received)), units, maxDigits)
	if !ok {
		return append(dst, lines.Fault(at, devices.FaultGarbage, received, ""))
	}
	if name == "" {
		return append(dst, lines.Fault(at, devices.FaultNoUnit, received, "switch the instrument to send its unit"))
	}
	number = strings.Replace(number, ",", ".", 1)
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return append(dst, lines.Fault(at, devices.FaultGarbage, received, ""))
	}
	step := 1.0
	if _, decimals, ok := strings.Cut(number, "."); ok {
		step, err = strconv.ParseFloat("1e-"+strconv.Itoa(len(decimals)), 64)
	}
	unit, _ := quantity.FindLoad(name)
	size, dim := unit.Newton, devices.DimForce
	if size == 0 {
		size, dim = unit.NewtonMetre, devices.DimTorque
	}
	f := v*size + 0 // no negative zero
	if err != nil || f > maxForce || f < -maxForce {
		return append(dst, lines.Fault(at, devices.FaultRange, received, "more than any such instrument shows"))
	}
	return append(dst, devices.Said{Kind: devices.KindReading, At: at, Text: string(received),
		Reading: devices.Reading{Value: f, Step: step * size, Dim: dim}})
}
