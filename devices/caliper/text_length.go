package caliper

import (
	"errors"
	"slices"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// The limits of error assumed of an instrument that sends lengths, in millimetres:
// those of a caliper with steps of 0.01 mm over short lengths, and for insides and
// depths (DIN 862). What the instrument's maker states isn't known.
const (
	limitOutsideMM = 0.02
	limitInsideMM  = 0.04
)

// TextLength describes lines with one length:
//
//	[ identifier blank ] [ unit ] [ sign ] number [ unit ] [ status ]
//
// The identifier is of letters and digits, set off by a blank or tab. The number may
// have a decimal point or comma. The unit is mm, in, inch, " or thou in any case. The
// status is a letter. Without a unit before it, a blank or tab must set it off, so
// that what noise left of a unit isn't taken for it. "01A +63.48 mm N" is 63.48 mm.
// Common practice, no source.
//
// A line without a unit is taken in the unit that New is given. With NoUnit it is a
// fault.
func TextLength() devices.Format {
	return devices.Format{
		Name: "text-length", Title: "length as a line of text", Instrument: "caliper",
		New:            newTextLength,
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

// maxDigits bounds the digits of a number: no length has more.
const maxDigits = 12

func newTextLength(bare quantity.Unit) devices.Decoder {
	return lines.NewDecoder(func(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
		number, unit, ok := lines.Quantity(string(lines.Trim(line)), units(), maxDigits)
		if !ok {
			return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
		}
		if unit == "" {
			unit = bare.String()
		}
		return append(dst, said(at, line, number, unit))
	})
}

// said makes a reading, or a fault, of a number and a unit that were cut from the
// bytes received. Whether a clock could have such a length isn't asked here.
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

// units are the units that a line may name. One that another begins with stands
// behind it. Metre and centimetre are left out: no instrument of the bench sends
// them, and a lost byte makes an m of an mm.
func units() []string { return []string{"inch", "thou", "mm", "in", `"`} }
