package caliper

import (
	"errors"
	"slices"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// The limits of error that are assumed of an instrument that sends lengths, in
// millimetres: those of a caliper with steps of 0.01 mm over short lengths, and for
// insides and depths (DIN 862). What its maker states isn't known.
const (
	limitOutsideMM = 0.02
	limitInsideMM  = 0.04
)

// TextLengthFormat describes the wire format.
func TextLengthFormat() devices.Format {
	return devices.Format{
		Name: "text-length", Title: "length as a line of text", Instrument: "caliper",
		New:            func(unit quantity.Unit) devices.Decoder { return &TextLength{Unit: unit} },
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
		Recognition: devices.Recognition{
			Rank: devices.RankPointed, Frames: 2, BareLengths: true, Fits: pointed, WeighText: lines.Alike, Need: devices.NeedShape,
		},
	}
}

// pointed reports whether some of the lengths have a unit, a sign, or a point behind
// at most four digits. Bare whole numbers are counts, and a comma behind a long
// number sets off an edge.
func pointed(said []devices.Said) bool {
	return slices.ContainsFunc(said, func(s devices.Said) bool {
		at := strings.IndexAny(s.Text, ".,")
		return s.Kind == devices.KindReading || strings.ContainsAny(s.Text, "+-") ||
			at >= 0 && len(strings.TrimLeft(s.Text[:at], " 0")) <= 4
	})
}

// TextLength decodes a line with one length:
//
//	[ identifier blank ] [ unit ] [ sign ] number [ unit ] [ status ]
//
// The identifier is of letters and digits, set off by a blank or tab. The number
// has a decimal point or comma or neither. The unit is mm, in, inch, ", thou in
// any case. The status is a letter; without a unit before it, it must be set off
// by a blank or tab, so that what noise left of a unit isn't taken for it. "01A
// +63.48 mm N" is 63.48 mm. Common practice, no source.
//
// A reading carries the stamp of its line's first byte and the line as received.
// A line without a unit is taken in Unit; if that is NoUnit, it is a fault. Lines
// that are no length come back as faults with their text. Between calls it holds
// one line.
type TextLength struct {
	Unit   quantity.Unit // for lines that name none
	framer lines.Framer
}

// maxDigits bounds the digits of a number: no length has more.
const maxDigits = 12

// Decode appends to dst the readings and faults that c completes, in order of
// arrival.
func (d *TextLength) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	return d.framer.Decode(dst, c, d.line)
}

// Flush appends an unfinished line to dst, as a fault.
func (d *TextLength) Flush(dst []devices.Said) []devices.Said { return d.framer.Flush(dst) }

func (d *TextLength) line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	number, unit, ok := lines.Quantity(string(lines.Trim(line)), units(), maxDigits)
	if !ok {
		return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
	}
	if unit == "" {
		unit = d.Unit.String()
	}
	return append(dst, said(at, line, number, unit))
}

// said makes a reading, or a fault, of a number and a unit that were cut from the
// bytes received. What is plausible for a clock isn't asked here.
func said(at devices.Stamp, received []byte, number, unit string) devices.Said {
	l, err := quantity.ParseLength(number+unit, quantity.NoUnit)
	switch {
	case errors.Is(err, quantity.ErrNoUnit):
		return lines.Fault(at, devices.FaultNoUnit, received, "name the unit in the instrument's profile, or switch the instrument to send it")
	case err != nil:
		return lines.Fault(at, devices.FaultRange, received, err.Error())
	}
	return devices.Said{Kind: devices.KindReading, At: at, Text: string(received), Reading: devices.Reading{
		Value: l.Metres, Step: l.Step, Dim: devices.DimLength, Unit: l.Unit}}
}

// units are the units that an instrument's line may name, the longer before those
// that they begin with. Metre and centimetre are left out: no instrument of the
// bench sends them, and a lost byte makes an m of an mm.
func units() []string { return []string{"inch", "thou", "mm", "in", `"`} }
