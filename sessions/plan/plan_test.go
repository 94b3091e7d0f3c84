package plan

import (
	"math"
	"testing"

	"evenbeat/sessions"
)

// What YAML can hold is tested with its lines, in configs; here is the rest.
func TestCheck(t *testing.T) {
	good := barrel()
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	for want, change := range map[string]func(*Plan){
		"plan barrel, step 1: min_mm 5 to max_mm +Inf: must be above 0.05, the second the larger":       func(p *Plan) { p.Steps[0].Max = math.Inf(1) },
		"plan barrel, step 1: min_mm NaN to max_mm 250: must be above 0.05, the second the larger":      func(p *Plan) { p.Steps[0].Min = math.NaN() },
		"plan barrel, step 1: min_mm 0.05 to max_mm 250: must be above 0.05, the second the larger":     func(p *Plan) { p.Steps[0].Min = UndoWithin },
		"plan barrel, step 1: vary_mm NaN: must be 0 to max_mm":                                         func(p *Plan) { p.Steps[0].Vary = math.NaN() },
		"plan barrel, step 1: vary_mm -1: must be 0 to max_mm":                                          func(p *Plan) { p.Steps[0].Vary = -1e-3 },
		"plan barrel, step 1: count 51: must be 1 to 50 readings":                                       func(p *Plan) { p.Steps[0].Count = 51 },
		"plan barrel, step 3: min_count 1 to max_count +Inf: must be above 0, the second the larger":    func(p *Plan) { p.Steps[2].Max = math.Inf(1) },
		`plan barrel, step 1: kind "sideways" is not known: use outside, inside, depth, typed or count`: func(p *Plan) { p.Steps[0].Kind = sessions.Kind("sideways") },
	} {
		p := barrel()
		change(&p)
		if err := p.Check(); err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}
