package spring

import (
	"math"
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
)

// By hand, against 0.40 × 1700: a strip of 0.42 × 1700 is (0.42/0.40)³ = 1.1576 times
// as strong; ranked by fit, then by nearness in strength, then by turns.
func TestStock(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1700)
	exact := func(v float64) *uncertainty.Quantity { q := uncertainty.Exact("x", v*mm); return &q }
	in.Height, in.Depth = exact(20), exact(20.5)
	in.Stock = []Stock{
		{Name: "long", Thickness: *exact(0.40), Length: exact(2400)},
		{Name: "strong", Thickness: *exact(0.42), Length: exact(1700)},
		{Name: "high", Thickness: *exact(0.40), Height: exact(21), Length: exact(1700)},
		{Name: "like", Thickness: *exact(0.40), Height: exact(20), Length: exact(1710)},
		{Name: "by the metre", Thickness: *exact(0.38)},
		{Name: "slab", Thickness: *exact(16)},
	}
	r := mustFit(t, in)
	var names []string
	for _, s := range r.Stock {
		names = append(names, s.Name)
	}
	if got, want := strings.Join(names, ", "), "like, strong, by the metre, long, slab, high"; got != want {
		t.Errorf("ranked %s, want %s", got, want)
	}
	within(t, "strength", r.Stock[1].StrengthRatio, 1.157625, 1e-9)
	within(t, "cut to, mm", r.Stock[2].Length/mm, math.Pi*(45*45-15*15)/(8*0.38), 1e-6)
	for _, c := range []struct {
		i    int
		want Verdict
		why  string
	}{{0, Fits, ""}, {1, Fits, "16 % stronger"}, {3, Long, "best length for it is 1767.1"}, {4, DoesNotGo, "thicker than the room"}, {5, DoesNotGo, "higher than the barrel"}} {
		if s := r.Stock[c.i]; s.Verdict != c.want || !strings.Contains(s.Why, c.why) {
			t.Errorf("%s: %q, %q", s.Name, s.Verdict, s.Why)
		}
	}
}

// The band's middle line is this strip: its lengths by the limits of fill.
func TestBand(t *testing.T) {
	r := mustFit(t, millimetres(45, 15, 0.40, 1767.146))
	b := r.Band[4]
	within(t, "thickness, mm", b.Thickness/mm, 0.40, 1e-12)
	within(t, "ideal, mm", b.LengthIdeal/mm, 1767.146, 5e-4)
	within(t, "low over ideal", b.LengthLow/b.LengthIdeal, 0.8, 1e-12) // fill 0.40
	within(t, "high over ideal", b.LengthHigh/b.LengthIdeal, 1.2, 1e-12)
	within(t, "strength", b.StrengthRatio, 1, 1e-6)
	if len(r.Band) != 9 || r.Band[0].Thickness >= b.Thickness {
		t.Errorf("band of %d, from %v", len(r.Band), r.Band[0].Thickness)
	}
}
