package plots

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// The rate over windows has its panel where there are two or more of them; one alone,
// or one without a number, says no more than the rate does.
func TestShortTermHasItsPanel(t *testing.T) {
	for n, want := range []bool{false, false, true, true, true} {
		f := Findings{Rate: beatExample()}
		f.Rate.ShortTerm = f.Rate.ShortTerm[:n]
		fig := mustDraw(t, "beat", f)
		drawn := texts(t, mustSVG(t, fig))
		if got := slices.Contains(drawn, "Rate over windows of 120 s, s/day (+ = gains)"); got != want {
			t.Errorf("%d windows: the panel is drawn %t, want %t: %q", n, got, want, drawn)
		}
		if got := strings.Contains(fig.Desc, " windows of 120 s;"); got != want {
			t.Errorf("%d windows: told %t, want %t: %q", n, got, want, fig.Desc)
		}
	}
	f := Findings{Rate: beatExample()}
	f.Rate.ShortTerm = f.Rate.ShortTerm[:2]
	f.Rate.ShortTerm[1].Rate.V = math.NaN()
	if ws := shortWindows(*f.Rate); ws != nil {
		t.Errorf("got %v, want none", ws)
	}
}
