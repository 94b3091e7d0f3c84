package analysis

import (
	"encoding/json"
	"testing"

	"evenbeat/sessions"
)

// Each dimension that a plan can name for a finding makes a difference to what is
// found, and none to what other findings say.
func TestEveryDimensionIsRead(t *testing.T) {
	sizes := map[sessions.Finding]map[string]float64{
		sessions.SpringFinding: {"bore": 45e-3, "arbor": 15e-3, "strip": 0.4e-3, "height": 20e-3, "depth": 20.5e-3, "length": 1.48,
			"inner": 35e-3, "coils": 12, "free": 150e-3, "free-coils": 5,
			"set-up": 1, "stop-turns": 4, "fusee-turns": 12, "chain-turns": 5},
		sessions.PivotFinding:    {"shoulder": 2.5e-3, "tip": 2.49e-3, "reach": 2e-3, "hole": 2.6e-3, "plate": 3e-3},
		sessions.WheelFinding:    {"wheel": 60e-3, "teeth": 64, "pinion": 8e-3, "leaves": 8, "centres": 34e-3},
		sessions.PendulumFinding: {"length": 1.007, "bob": 0.1, "ten-threads": 8e-3},
	}
	found := func(f sessions.Finding, readBy sessions.Finding, without string) string {
		rec := sessions.Record{Clock: sessions.Clock{Train: "96/8,80/10,75/10,30", BeatsPerTooth: 2, HourArbor: 2}}
		for name, v := range sizes[f] {
			if name != without {
				rec.Readings = append(rec.Readings, sessions.Reading{Part: "it", Dimension: name, Value: v, Limit: 1e-5, Instrument: "caliper",
					Kind: sessions.UsualKind(name), Finding: readBy, State: sessions.Kept})
			}
		}
		var r any
		var err error
		if f == sessions.SpringFinding {
			r, err = Spring(rec, "it", nil, usualSpringOptions())
		} else {
			r, err = Fits(rec, usualPartsOptions())
		}
		text, jerr := json.Marshal(r)
		if jerr != nil {
			t.Fatal(jerr)
		}
		if err != nil {
			text = []byte(err.Error())
		}
		return string(text)
	}
	for _, f := range sessions.Findings() {
		whole := found(f, f, "")
		if got := found(f, "", ""); got != whole {
			t.Errorf("%s, without a plan: got %s, want %s", f, got, whole)
		}
		if len(sizes[f]) != len(f.Dimensions()) {
			t.Errorf("%s: %d sizes for %d dimensions", f, len(sizes[f]), len(f.Dimensions()))
		}
		for _, name := range f.Dimensions() {
			if found(f, f, name) == whole {
				t.Errorf("%s: %s makes no difference", f, name)
			}
		}
		for _, other := range sessions.Findings() {
			if other != f && found(f, other, "") == whole {
				t.Errorf("%s: reads what a plan for %s measured", f, other)
			}
		}
	}
}
