package caliper

import (
	"bytes"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// Digits52Hex describes lines of thirteen hexadecimal digits, 52 bits:
//
//	F F F F  s  d d d d d d  p  u
//
// s is the sign, 0 plus and 8 minus; d six decimal digits, most significant first; p
// the number of decimals, 0 to 5; u the unit, 0 millimetre and 1 inch.
// "FFFF000634820" is 63.48 mm. Common practice, no source.
func Digits52Hex() devices.Format {
	return devices.Format{
		Name: "digits52-hex", Title: "length as thirteen digits", Instrument: "caliper",
		New:            func(quantity.Unit) devices.Decoder { return lines.NewDecoder(digits52Hex) },
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
		Recognition: devices.Recognition{Rank: devices.RankNamed, Frames: 2},
	}
}

func digits52Hex(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	number, unit := splitDigits52(line)
	if number == "" {
		return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
	}
	return append(dst, said(at, line, number, unit))
}

// splitDigits52 returns number and unit of a frame; the number is empty if the line
// isn't one. It checks all that is fixed in a frame, which has no other guard against
// noise.
func splitDigits52(line []byte) (number, unit string) {
	if len(line) != 13 || !bytes.Equal(line[:4], []byte("FFFF")) && !bytes.Equal(line[:4], []byte("ffff")) {
		return "", ""
	}
	digits := string(line[5:11])
	for i := range len(digits) {
		if !lines.IsDigit(digits[i]) {
			return "", ""
		}
	}
	places := int(line[11]) - '0'
	if places < 0 || places > 5 {
		return "", ""
	}
	sign, ok := map[byte]string{'0': "", '8': "-"}[line[4]]
	unit, ok2 := map[byte]string{'0': "mm", '1': "in"}[line[12]]
	if !ok || !ok2 {
		return "", ""
	}
	number = sign + digits[:6-places]
	if places > 0 {
		number += "." + digits[6-places:]
	}
	return number, unit
}
