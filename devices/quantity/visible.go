package quantity

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Visible shows what can't be seen, and could steer a terminal or turn a line round, as
// \u and four digits: control characters but for the ends of lines and tabs, those that
// change the direction of writing, and the separators of Unicode. A byte that is no
// UTF-8 is shown as \x and two digits. Whatever came from outside goes through it before
// it is printed.
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
