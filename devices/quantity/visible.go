package quantity

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Visible shows characters that can't be seen, and could control a terminal or reverse
// the text of a line, as \u and four digits: control characters except line ends and
// tabs, those that change the direction of writing, and the line and paragraph separators
// of Unicode. A byte that isn't valid UTF-8 is shown as \x and two digits. Whatever came
// from outside goes through it before it is printed.
func Visible(s string) string {
	if strings.IndexFunc(s, hidden) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, s[0])
		case hidden(r):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteString(s[:n])
		}
		s = s[n:]
	}
	return b.String()
}

func hidden(r rune) bool {
	switch r {
	case '\n', '\t':
		return false
	case '\u2028', '\u2029', 0xfffe, 0xffff:
		return true
	}
	return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r)
}
