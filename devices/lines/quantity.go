package lines

import (
	"slices"
	"strings"
)

// Quantity finds number and unit in a line without blanks about it:
//
//	[ identifier blank ] [ unit ] [ sign ] number [ unit ] [ status ]
//
// The units are those of the list, in any case; the longer must stand before those
// that they begin with. The unit is returned as it stands in the line, or empty if
// there is none. The status is a letter; without a unit before it, it must be set
// off by a blank or tab, so that what noise left of a unit isn't taken for it.
func Quantity(s string, units []string, maxDigits int) (number, unit string, ok bool) {
	isUnit := func(word string) bool {
		return slices.ContainsFunc(units, func(u string) bool { return strings.EqualFold(u, word) })
	}
	if _, rest, found := Identifier(s, isUnit); found {
		s = rest
	}
	before := leadingUnit(s, units)
	s = strings.TrimLeft(s[len(before):], " \t")
	number, s = Number(s, maxDigits)
	if number == "" {
		return "", "", false
	}
	behind := strings.TrimLeft(s, " \t")
	setOff := len(behind) < len(s)
	after := leadingUnit(behind, units)
	if before != "" && after != "" || before == "" && after == "" && behind != "" && !setOff {
		return "", "", false
	}
	status := strings.TrimLeft(behind[len(after):], " \t")
	return number, before + after, status == "" || len(status) == 1 && IsLetter(status[0])
}

// leadingUnit returns the unit that s begins with, as it stands there.
func leadingUnit(s string, units []string) string {
	for _, u := range units {
		if len(s) >= len(u) && strings.EqualFold(s[:len(u)], u) {
			return s[:len(u)]
		}
	}
	return ""
}
