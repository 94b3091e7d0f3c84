package spring

import (
	"testing"

	"evenbeat/analysis/uncertainty"
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
