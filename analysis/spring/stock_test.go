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
	}{{0, Fits, ""}, {1, Fits, "16 % stronger"}, {3, Long, "ideal length is 1767.1"}, {4, DoesNotGo, "thicker than the gap"}, {5, DoesNotGo, "higher than the barrel"}} {
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

// A barrel that turns in 24 h and gives 8.79 turns goes 8 days. Of strips that fit,
// those that keep the 8 days come first, what is sold out last among them; a strip of
// 0.44 × 1600 gives 8.05 turns, one of 0.45 × 1700 only 7.83.
func TestStockAgainstTheTrain(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1600)
	in.BarrelTurnHours = 24
	exact := func(v float64) *uncertainty.Quantity { q := uncertainty.Exact("x", v*mm); return &q }
	none, three := int64(0), int64(3)
	in.Stock = []Stock{
		{Name: "sold out", Thickness: *exact(0.40), Length: exact(1600), Quantity: &none},
		{Name: "a week", Thickness: *exact(0.45), Length: exact(1700), Quantity: &three},
		{Name: "strong", Thickness: *exact(0.44), Length: exact(1600), Quantity: &three},
	}
	r := mustFit(t, in)
	var names []string
	for _, s := range r.Stock {
		names = append(names, s.Name)
	}
	if got, want := strings.Join(names, ", "), "strong, sold out, a week"; got != want {
		t.Errorf("ranked %s, want %s", got, want)
	}
	if s := r.Stock[2]; !strings.Contains(s.Why, "goes 188 h, less than the 8 days") || *s.Quantity != 3 {
		t.Errorf("%+v", s)
	}
	if s := r.Stock[1]; s.Why != "none left: order it" {
		t.Errorf("%+v", s)
	}
}
