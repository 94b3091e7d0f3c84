package sessions

import (
	"fmt"
	"testing"
	"time"
)

func TestSetAside(t *testing.T) {
	monday := time.Date(2026, 3, 9, 9, 0, 0, 0, time.UTC)
	of := func(parts ...string) (all []Reading) {
		for _, part := range parts {
			for _, d := range []string{ZeroDimension, "bore", "depth", "strip", "length"} {
				all = append(all, Reading{At: monday, Part: part, Dimension: d, State: Kept})
			}
		}
		return append(all, Reading{At: monday.AddDate(0, 0, 2), Part: parts[0], Dimension: "strip", State: Kept})
	}
	one, two := []string{"barrel"}, []string{"Going barrel", "striking barrel"}
	for _, c := range []struct {
		parts []string
		kind  string
		text  string
		want  string // the numbers of the readings that are left out
	}{
		{one, EventReplaced, "mainspring", "[3 4]"},
		{one, EventReplaced, "Mainspring, 0.45 mm, hole end", "[3 4]"},
		{one, EventReplaced, "barrel mainspring: blued", "[3 4]"},
		{one, EventReplaced, "barrel", "[1 2 3 4]"},
		{one, EventReplaced, "barrel: bore, depth", "[1 2]"},
		{one, EventReplaced, "barrel: of brass", "[1 2 3 4]"},
		{one, EventReplaced, "the click", "[]"},
		{one, EventReplaced, "", "[]"},
		{one, EventRepaired, "mainspring", "[]"},
		{two, EventReplaced, "mainspring", "[]"}, // of which?
		{two, EventReplaced, "striking barrel mainspring", "[8 9]"},
		{two, EventReplaced, "going barrel: strip", "[3]"},
	} {
		all := of(c.parts...)
		SetAside(all, []Event{{ID: 7, Kind: c.kind, Text: c.text, At: monday.AddDate(0, 0, 1)}})
		out := []int{}
		for i, r := range all {
			if r.State == Undone {
				out = append(out, i)
			}
			if (r.State == Undone) != (r.ReplacedBy == 7) {
				t.Errorf("%s %q: %+v", c.kind, c.text, r)
			}
		}
		if got := fmt.Sprint(out); got != c.want {
			t.Errorf("%s %q leaves out %s, want %s", c.kind, c.text, got, c.want)
		}
	}
}

// What was seen of a piece goes with it, and so says nothing of the one in its place.
func TestParticularsAreSetAside(t *testing.T) {
	monday := time.Date(2026, 3, 9, 9, 0, 0, 0, time.UTC)
	names := []string{SpringEnd, Set, BarrelHook, Cover, ArborHook}
	for text, want := range map[string]string{
		"mainspring":          "[barrel-hook cover arbor-hook]",
		"barrel":              "[]",
		"barrel: bore, depth": "[end set arbor-hook]",
		"barrel: arbor":       "[end set barrel-hook cover]",
		"the click":           "[end set barrel-hook cover arbor-hook]",
	} {
		r := Record{Events: []Event{{ID: 7, Kind: EventReplaced, Text: text, At: monday.AddDate(0, 0, 1)}}}
		for _, d := range []string{"bore", "depth", "arbor", "strip"} {
			r.Readings = append(r.Readings, Reading{At: monday, Part: "barrel", Dimension: d})
		}
		for _, name := range names {
			r.Particulars = append(r.Particulars, Particular{ID: 1, At: monday, Part: "barrel", Name: name, Value: "x"})
		}
		stand := []string{}
		for _, name := range names {
			if r.Particular("barrel", name).ID != 0 {
				stand = append(stand, name)
			}
		}
		if got := fmt.Sprint(stand); got != want {
			t.Errorf("after %q %s stand, want %s", text, got, want)
		}
		r.Particulars = append(r.Particulars, Particular{ID: 2, At: monday.AddDate(0, 0, 2), Part: "barrel", Name: BarrelHook, Value: "x"})
		if r.Particular("barrel", BarrelHook).ID != 2 {
			t.Errorf("after %q what was seen later doesn't stand", text)
		}
	}
}
