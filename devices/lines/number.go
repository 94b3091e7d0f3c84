package lines

import "strings"

// IsLetter reports whether b is an ASCII letter.
func IsLetter(b byte) bool { return b|0x20 >= 'a' && b|0x20 <= 'z' }

// IsDigit reports whether b is an ASCII digit.
func IsDigit(b byte) bool { return b >= '0' && b <= '9' }

// Identifier splits an identifier of letters and digits, set off by blanks or tabs,
// from the front of s. A word that taken reports to be something else is no
// identifier, nor is one with no digit behind it.
func Identifier(s string, taken func(string) bool) (word, rest string, ok bool) {
	i := strings.IndexAny(s, " \t")
	if i <= 0 {
		return "", s, false
	}
	word, rest = s[:i], strings.TrimLeft(s[i:], " \t")
	for i := range len(word) {
		if !IsLetter(word[i]) && !IsDigit(word[i]) {
			return "", s, false
		}
	}
	if taken(word) || !strings.ContainsAny(rest, "0123456789") { // the number is the word itself
		return "", s, false
	}
	// A word of digits alone may be half of a number. It is an identifier only if a
	// sign or point shows that a number stands behind it.
	if !strings.ContainsFunc(word, func(r rune) bool { return r > '9' }) && !strings.ContainsAny(rest, "+-.,") {
		return "", s, false
	}
	return word, rest, true
}

// Number takes a decimal number from the front of s: an optional sign, which blanks
// may follow, and at most so many digits with at most one point or comma among them.
// It returns the number without blanks, or "" if s begins with none.
func Number(s string, maxDigits int) (number, rest string) {
	sign := ""
	rest = s
	if rest != "" && (rest[0] == '+' || rest[0] == '-') {
		sign, rest = rest[:1], strings.TrimLeft(rest[1:], " \t")
	}
	digits, points, i := 0, 0, 0
	for ; i < len(rest); i++ {
		switch b := rest[i]; {
		case IsDigit(b):
			digits++
			continue
		case (b == '.' || b == ',') && points == 0:
			points++
			continue
		}
		break
	}
	if digits == 0 || digits > maxDigits {
		return "", s
	}
	return sign + rest[:i], rest[i:]
}
