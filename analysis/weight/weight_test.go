package weight

import (
	"errors"
	"math"
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

func exact(v float64) *uncertainty.Quantity { q := uncertainty.Exact("x", v); return &q }

// Derham, The Artificial Clock-maker, 1696, p. 110: 16 turns of the great wheel, 12 h
// each, are 192 h. A drum of 46.9 mm with a line of 2 mm takes 16·π·48.9 mm of line,
// so half that fall with a pulley.
func TestGoing(t *testing.T) {
	fall := 16 * math.Pi * 0.0489 / 2
	f := uncertainty.Limit("fall", fall, 0.01, "", "")
	r, err := Going(Input{Drum: exact(0.0469), Line: exact(0.002), Fall: &f, Mass: exact(5), Parts: 2, TurnHours: 12})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name             string
		got, want, slack float64
	}{
		{"turns", r.Turns.V, 16, 1e-12},
		{"hours", r.GoingHours.V, 192, 1e-9},
		{"u of the hours", r.GoingHours.U, 192 * 0.01 / math.Sqrt(3) / fall, 1e-6},
		{"torque", r.Torque.V, 5 * 9.80665 * 0.0489 / 4, 1e-12},
		{"energy", r.Energy.V, 5 * 9.80665 * fall, 1e-9},
	} {
		if math.Abs(c.got-c.want) > c.slack {
			t.Errorf("%s = %v, want %v", c.name, c.got, c.want)
		}
	}
	// 192 h are 8 days to the turn, and not a turn of 14.
	if len(r.Runs) != 4 || math.Abs(r.Runs[1].Reserve.V) > 1e-9 || math.Abs(r.Runs[2].Reserve.V+12) > 1e-9 {
		t.Errorf("runs %+v", r.Runs)
	}
	// What the weight gives out on its way is torque times angle.
	if work := r.Torque.V * 2 * math.Pi * r.Turns.V; math.Abs(work-r.Energy.V) > 1e-9 {
		t.Errorf("work at the drum %v J, of the weight %v J", work, r.Energy.V)
	}
	if !strings.Contains(strings.Join(r.Cautions, " "), "J.") {
		t.Errorf("the energy is not told: %q", r.Cautions)
	}
}

func TestGoingRefuses(t *testing.T) {
	good := Input{Drum: exact(0.05), Fall: exact(1), Parts: 1}
	for name, change := range map[string]func(*Input){
		"drum":             func(in *Input) { in.Drum = nil },
		"fall":             func(in *Input) { in.Fall = exact(-1) },
		"line":             func(in *Input) { in.Line = exact(math.NaN()) },
		"mass":             func(in *Input) { in.Mass = exact(math.Inf(1)) },
		"parts of line":    func(in *Input) { in.Parts = 0 },
		"turn of the drum": func(in *Input) { in.TurnHours = -1 },
	} {
		in := good
		change(&in)
		_, err := Going(in)
		if e, ok := errors.AsType[*quantity.InputError](err); !ok || e.Name != name {
			t.Errorf("%s: error %v", name, err)
		}
	}
}
