package caliper

import (
	"encoding/hex"
	"fmt"
	"slices"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// Bits24Hex describes lines of six hexadecimal digits, a number of 24 bits:
//
//	bit   23    22 21   20     19 … 0
//	    unit    0  0   sign  magnitude
//
// Unit 0: the magnitude is in 0.01 mm; 1: in 0.0005 in. Sign 1 is minus. "0018CC" is
// 63.48 mm. Common practice, no source.
func Bits24Hex() devices.Format {
	return devices.Format{
		Name: "bits24-hex", Title: "length as six digits", Instrument: "caliper",
		New:            func(quantity.Unit) devices.Decoder { return lines.NewDecoder(bits24Line) },
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
		Recognition: devices.Recognition{
			Rank: devices.RankBare, Frames: 3, Fits: small,
			// That a line of text has six digits is worth four bits, and that they
			// name a small length five.
			WeighText: func(said []devices.Said) float64 { return 9 * float64(len(said)) },
			Need:      devices.NeedShape,
		},
	}
}

// smallLength is more than most lengths that are measured at the bench, in metres.
const smallLength = 0.3

func small(said []devices.Said) bool {
	return !slices.ContainsFunc(said, func(s devices.Said) bool {
		return s.Reading.Value > smallLength || s.Reading.Value < -smallLength
	})
}

func bits24Line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	var b [3]byte
	if len(line) == 2*len(b) {
		if _, err := hex.Decode(b[:], line); err == nil {
			return append(dst, bits24(at, line, string(line), uint32(b[0])<<16|uint32(b[1])<<8|uint32(b[2])))
		}
	}
	return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
}

// bits24 makes a reading, or a fault, of a frame.
func bits24(at devices.Stamp, received []byte, text string, frame uint32) devices.Said {
	if frame&(3<<21) != 0 {
		return lines.Fault(at, devices.FaultGarbage, received, "bits 21 and 22 must be zero")
	}
	sign, magnitude := "", frame&(1<<20-1)
	if frame&(1<<20) != 0 {
		sign = "-"
	}
	number, unit := fmt.Sprintf("%s%d.%02d", sign, magnitude/100, magnitude%100), "mm"
	if frame&(1<<23) != 0 {
		// Steps of half a thou, so five times the magnitude in the fourth decimal.
		number, unit = fmt.Sprintf("%s%d.%04d", sign, magnitude*5/10000, magnitude*5%10000), "in"
	}
	s := said(at, received, number, unit)
	if s.Kind == devices.KindReading {
		s.Text = text
		if unit == "in" {
			s.Reading.Step *= 5
		}
	}
	return s
}
