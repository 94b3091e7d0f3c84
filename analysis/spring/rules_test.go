package spring

import (
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

func TestRules(t *testing.T) {
	q := func(v float64) *uncertainty.Quantity { c := uncertainty.Exact("x", v*mm); return &c }
	in := millimetres(45, 20, 0.40, 1500) // arbor 0.444 of the bore
	in.Height, in.Depth, in.FreeAcross = q(20), q(20.05), q(120)
	held := map[string]Held{}
	for _, r := range mustFit(t, in).Rules {
		held[r.Name] = r.Held
		if r.Source == "" || r.Says == "" {
			t.Errorf("%s: no source or sentence", r.Name)
		}
	}
	for name, want := range map[string]Held{
		"arbor to bore": Broken, "arbor to strip": Kept, "end float": Broken, "set of the spring": Kept, "hook and hole": Look,
	} {
		if held[name] != want {
			t.Errorf("%s: %q, want %q", name, held[name], want)
		}
	}
	in.Depth = typed("depth", 20.1*mm, 0.04*mm, "")
	for _, r := range mustFit(t, in).Rules {
		if r.Name == "end float" && r.Held != Unclear {
			t.Errorf("an end float at its limit: %q", r.Held)
		}
	}
}

// 20.3 less 20 mm leaves 0.3 mm, 0.2 mm above the limit of 0.1 mm; in inches 0.0118
// and 0.0079. Errors within ±0.04 and ±0.02 mm make a trapezium that leaves a fortieth
// beyond 0.06 − √(0.025·2·0.04·0.08) = 0.0474 mm.
func TestEndFloatInBothUnits(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1500)
	in.Height, in.Depth = typed("height", 20*mm, 0.02*mm, ""), typed("depth", 20.3*mm, 0.04*mm, "")
	for _, c := range []struct {
		units        quantity.System
		says, margin string
	}{{quantity.Metric, "0.300 ± 0.047 mm between", "0.20 mm"}, {quantity.Imperial, "0.0118 ± 0.0019 in between", "0.008 in"}} {
		in.Units = c.units
		for _, r := range mustFit(t, in).Rules {
			if r.Name != "end float" {
				continue
			}
			if !strings.HasPrefix(r.Says, c.says) || r.MarginText(c.units) != c.margin {
				t.Errorf("says %q, margin %q", r.Says, r.MarginText(c.units))
			}
		}
	}
}
