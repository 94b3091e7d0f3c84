package quantity

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"
)

func TestVisible(t *testing.T) {
	for in, want := range map[string]string{
		"":                            "",
		"Hall clock, 8 days\n\tPréau": "Hall clock, 8 days\n\tPréau",
		"\x1b[2Jgone":                 `\u001b[2Jgone`,
		"back\rover\b\x7f":            `back\u000dover\u0008\u007f`,
		"\u009b31m":                   `\u009b31m`,
		"part \u202e319 mm\u2069":     `part \u202e319 mm\u2069`,
		"a\u2028b\ufffe":              `a\u2028b\ufffe`,
		"1.5\xb5m \x80":               `1.5\xb5m \x80`,
		"time ⏱ ± µm שעון":            "time ⏱ ± µm שעון",
	} {
		if got := Visible(in); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}

func FuzzVisible(f *testing.F) {
	f.Add("\x1b]0;x\a \u202e")
	f.Add("\xff\xfe")
	f.Fuzz(func(t *testing.T, s string) {
		got := Visible(s)
		if !utf8.ValidString(got) {
			t.Errorf("%q: %q is no UTF-8", s, got)
		}
		for _, r := range got {
			if r != '\n' && r != '\t' && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r)) {
				t.Errorf("%q: %U is still there", s, r)
			}
		}
		if Visible(got) != got {
			t.Errorf("%q: shown twice, it changes", s)
		}
		if strings.Count(got, "\n") != strings.Count(s, "\n") {
			t.Errorf("%q: lines differ", s)
		}
	})
}
