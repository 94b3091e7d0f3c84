package lines

import (
	"strings"

	"evenbeat/devices"
)

// The evidence of a character that comes again in its place, in bits. Noise is taken to
// be a digit one time in two, and else one of about twenty others; a line ends at one
// character in ten.
const (
	digitBits = 1.0
	otherBits = 4.3
	endBits   = 3.3
	// formBits is the evidence of a line that has the format's form at all.
	formBits = 2.0
)

// Alike returns the evidence, in bits, that lines have the shape of the one before:
// the same characters in the same places, but for the digits.
func Alike(said []devices.Said) float64 {
	bits := formBits
	for i := 1; i < len(said); i++ {
		last, now := shape(said[i-1].Text), shape(said[i].Text)
		bits += formBits
		switch {
		case now == last:
			bits += worth(now)
		case foot(now) == foot(last): // fewer digits before the point, or blanks for them
			bits += worth(foot(now)) - 1
		default:
			bits -= otherBits
		}
	}
	return bits
}

// shape writes 0 for each digit.
func shape(line string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return '0'
		}
		return r
	}, strings.TrimSpace(line))
}

// foot drops the digits before the first point, and blanks and sign before them.
func foot(shape string) string {
	at := strings.IndexAny(shape, ".,")
	if at < 0 {
		return strings.TrimLeft(shape, "0 +-")
	}
	head := strings.TrimRight(shape[:at], "0")
	return strings.TrimRight(head, " +-") + shape[at:]
}

func worth(shape string) float64 {
	digits := strings.Count(shape, "0")
	return digitBits*float64(digits) + otherBits*float64(len(shape)-digits) + endBits
}
