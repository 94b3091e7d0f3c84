package page

import (
	"net/http"
	"strings"
	"testing"

	"evenbeat/configs"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// A figure is laid out for a phone where that is asked for, and turns dark.
func TestFiguresForScreens(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall"})
	for path, want := range map[string]string{"/clocks/1/figures/going.svg": `width="481.89pt"`, "/clocks/1/figures/going.svg?narrow": `width="270pt"`} {
		status, text := b.get(t, path)
		if status != http.StatusOK || !strings.Contains(text, want) || !strings.Contains(text, "prefers-color-scheme:dark") {
			t.Errorf("%s: status %d, %.200s, want %s", path, status, text, want)
		}
	}
}

// Every step of a plan that comes with the program, at which an instrument or a count is
// asked for, has its drawing at the address that the place shows.
func TestStepsAreDrawn(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	for _, name := range configs.PlanNames() {
		p, err := b.Plan(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range p.Steps {
			v := measuringView{finding: p.Finding}
			v.ask(plan.Ask{Step: s, N: 1, Of: s.Count}, plan.Left{})
			turns := strings.HasSuffix(s.Dimension, "turns") || s.Dimension == "set-up" // of the winding, typed
			if (v.Asked.Drawing == "") != turns || (v.Asked.Shows == "") != turns {
				t.Errorf("plan %s: the drawing of %s is %q, %q", name, s.Dimension, v.Asked.Drawing, v.Asked.Shows)
			}
			if turns {
				continue
			}
			if status, text := b.get(t, v.Asked.Drawing); status != http.StatusOK || !strings.Contains(text, "</svg>") {
				t.Errorf("%s: status %d, %.100s", v.Asked.Drawing, status, text)
			}
		}
	}
	if status, _ := b.get(t, "/steps/spring/crutch"); status != http.StatusNotFound {
		t.Errorf("a step that isn't drawn: status %d", status)
	}
}
