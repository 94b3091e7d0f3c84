package spring

import (
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Against 20 × 0.45 × 2500 mm, strength 20·0.45³/2500 = 7.29e-4 mm³, by hand: at its ideal
// length, 706.858/t, a strip as high is as strong at t⁴ = 0.025768, t = 0.4007: 0.40 mm,
// 1767 mm, sold as 1770.
func TestOrder(t *testing.T) {
	in := millimetres(45, 15, 0.45, 2500)
	exact := func(v float64) *uncertainty.Quantity { q := uncertainty.Exact("x", v*mm); return &q }
	in.Height, in.Depth = exact(20), exact(20.5)
	r := mustFit(t, in)
	within(t, "thickness, mm", r.Order.Thickness/mm, 0.40, 1e-9)
	within(t, "length, mm", r.Order.Length/mm, 1770, 1e-6)
	within(t, "strength", r.Order.StrengthRatio, (0.064/1770)/(0.091125/2500), 1e-9)
	const line = "mainspring 20.0 mm high × 0.40 mm thick × 1770 mm long, for a barrel of 45.0 mm bore; end and direction as the old spring's"
	if r.Order.Says != line || !has(r.Next, "To order: "+line+".") {
		t.Errorf("line %q, next %q", r.Order.Says, r.Next)
	}
	// One that is too high is ordered as high as goes in with 0.1 mm to spare.
	in.Height = exact(20.8)
	if r = mustFit(t, in); r.Order.Height != 20*mm {
		t.Errorf("height %v, want 20 mm", r.Order.Height)
	}
	in.Height = exact(20)
	// The user's own shelf comes first, unless none is left.
	none := int64(0)
	in.Stock = []Stock{{Name: "gone", Thickness: *exact(0.40), Length: exact(1770), Quantity: &none}, {Name: "drawer 3", Thickness: *exact(0.42), Length: exact(1700)}}
	if r = mustFit(t, in); r.Order.Name != "drawer 3" || r.Order.Length != 1.7 {
		t.Errorf("from stock: %+v", r.Order)
	}
	in.Stock, in.Units = nil, quantity.Imperial
	if r = mustFit(t, in); r.Order.Says != "mainspring 0.781 in high × 0.016 in thick × 68.0 in long, for a barrel of 1.772 in bore; end and direction as the old spring's" {
		t.Errorf("in inches: %q", r.Order.Says)
	}
	in.Height, in.Depth = nil, nil
	if r = mustFit(t, in); r.Order != nil {
		t.Errorf("without a height: %+v", r.Order)
	}
	// A spring that fits asks for no order.
	if r = mustFit(t, halfFull()); r.Order == nil || has(r.Next, "To order") {
		t.Errorf("one that fits: %+v, %q", r.Order, r.Next)
	}
}

// What was seen of end and direction stands in the line; what wasn't is as the old one's.
func TestEndAndDirection(t *testing.T) {
	for in, want := range map[[2]string]string{
		{"", ""}:               "end and direction as the old spring's",
		{"loop", ""}:           "loop end, direction as the old spring's",
		{"", "anticlockwise"}:  "winds anticlockwise, end as the old spring's",
		{"hole", "clockwise"}:  "hole end, winds clockwise",
		{"T-end", "clockwise"}: "T-end, winds clockwise",
	} {
		if got := endAndDirection(Input{End: in[0], Direction: in[1]}); got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
	}
}
