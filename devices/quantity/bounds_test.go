package quantity

import (
	"strings"
	"testing"
)

func TestCheckName(t *testing.T) {
	for _, good := range []string{"a", "Longcase, hall", "Übergang № 3", "时计", strings.Repeat("é", 100), "no\u00a0break"} {
		if err := CheckName("clock", good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	for _, tc := range []struct{ name, want string }{
		{"", "clock: the name is empty: write one"},
		{" \u00a0\t", "clock: the name is empty: write one"},
		{strings.Repeat("é", 101), `clock "éééééééééééééééééééé"…: a name has at most 100 characters, and this one has 101`},
		{"a\nb", `clock "a\nb": a name has no line ends and no control characters`},
		{"a\rb", `clock "a\rb": a name has no line ends and no control characters`},
		{"a\tb", `clock "a\tb": a name has no line ends and no control characters`},
		{"a\x1b[2Jb", `clock "a\x1b[2Jb": a name has no line ends and no control characters`},
		{"a\x00", `clock "a\x00": a name has no line ends and no control characters`},
		{"a\u202eb", `clock "a\u202eb": a name has no line ends and no control characters`},
		{"a\u2028b", `clock "a\u2028b": a name has no line ends and no control characters`},
		{"a\xffb", `clock "a\xffb": a name has no line ends and no control characters`},
		{" a", `clock " a": a name begins and ends with no blank`},
		{"a ", `clock "a ": a name begins and ends with no blank`},
	} {
		if err := CheckName("clock", tc.name); err == nil || err.Error() != tc.want {
			t.Errorf("%q:\ngot  %v\nwant %s", tc.name, err, tc.want)
		}
	}
}
