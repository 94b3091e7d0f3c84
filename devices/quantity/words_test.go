package quantity

import "testing"

func TestPlural(t *testing.T) {
	for n, want := range map[int64]string{0: "clocks", 1: "clock", 2: "clocks"} {
		if got := Plural(n, "clock", "clocks"); got != want {
			t.Errorf("%d %s, want %s", n, got, want)
		}
	}
}
