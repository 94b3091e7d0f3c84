package lines

import (
	"slices"
	"strings"
)

// Quantity finds the number and the unit in a line without blanks around it:
//
//	[ identifier blank ] [ unit ] [ sign ] number [ unit ] [ status ]
//
// Units are those of the list, in any case. One that another begins with must stand
// behind that other. The unit is returned as the line has it, or empty if there is
// none. The status is a letter. Without a unit before it, a blank or tab must set it
// off, so that what noise left of a unit isn't taken for it.
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
