package spring

import (
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
)

// Once hook and hole were looked at, the rule of them says how they were found and asks
// nobody to look again.
func TestHookRule(t *testing.T) {
	for found, want := range map[Held]struct{ held, says, next string }{
		"":     {"inspect", "look at both ends", "Before fitting, look at both ends"},
		Kept:   {"OK", "are sound", ""},
		Broken: {"out", "not sound", "Make hook and hole good"},
	} {
		at := func(name string, m float64) *uncertainty.Quantity {
			q := uncertainty.Limit(name, m, 1e-5, name, "read")
			return &q
		}
		r, err := Fit(Input{Limits: DefaultLimits(), Bore: at("bore", 45e-3), Arbor: at("arbor", 15e-3), Strip: at("strip", 0.4e-3), Length: at("length", 1.767),
			Height: at("height", 20e-3), Depth: at("depth", 21e-3), Hook: found})
		if err != nil {
			t.Fatal(err)
		}
		rule := r.Rules[len(r.Rules)-1]
		if rule.Held.Words() != want.held || !strings.Contains(rule.Says, want.says) {
			t.Errorf("found %q: the rule is %s: %s", found, rule.Held.Words(), rule.Says)
		}
		next := strings.Join(r.Next, " ")
		if !strings.Contains(next, want.next) || found == Kept && strings.Contains(strings.ToLower(next), "hook") {
			t.Errorf("found %q: to do next %q", found, r.Next)
		}
		if why := strings.Join(r.Reasons, " "); strings.Contains(why, "hook or hole") {
			t.Errorf("found %q: told twice: %s", found, why)
		}
	}
}
