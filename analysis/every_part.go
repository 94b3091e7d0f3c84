package analysis

import (
	"slices"
	"strings"

	"evenbeat/analysis/parts"
	"evenbeat/sessions"
)

// usualBush is the part under which a bush is measured where none is named.
const usualBush = "bushing"

// Fits judges every pivot, wheel and pendulum that the record holds, in the order in
// which they were first measured. A pivot runs in the bush measured under the same
// part, else in the one measured under bushing. Where neither was measured, the
// answer asks for it.
func Fits(rec sessions.Record, o PartsOptions) ([]parts.Result, error) {
	out := []parts.Result{} // never nil: JSON would show a null
	var seen []string
	for _, r := range rec.Readings {
		if r.State == sessions.Undone || slices.Contains(seen, r.Part) {
			continue
		}
		var f parts.Result
		var err error
		switch {
		case sessions.PivotFinding.Reads(r, "shoulder"):
			bush := r.Part
			if !measured(rec, sessions.PivotFinding, bush, "hole") && measured(rec, sessions.PivotFinding, usualBush, "hole") {
				bush = usualBush
			}
			f, err = Pivot(rec, r.Part, bush, o)
		case sessions.WheelFinding.Reads(r, "wheel"):
			f, err = Wheel(rec, r.Part, o)
		case sessions.PendulumFinding.Reads(r, "length") && !measured(rec, sessions.SpringFinding, r.Part, "strip"):
			f, err = Pendulum(rec, r.Part, o)
		default:
			continue
		}
		if err != nil {
			return nil, err
		}
		seen = append(seen, r.Part)
		f.Part = r.Part
		for _, sentences := range [][]string{f.Next, f.Matters} {
			for i, s := range sentences {
				sentences[i] = f.Part + ": " + strings.ToLower(s[:1]) + s[1:]
			}
		}
		out = append(out, f)
	}
	return out, nil
}

// measured tells whether a dimension of a part has a reading that stands.
func measured(rec sessions.Record, f sessions.Finding, part, dimension string) bool {
	return slices.ContainsFunc(rec.Readings, func(r sessions.Reading) bool {
		return r.State != sessions.Undone && r.Part == part && f.Reads(r, dimension)
	})
}
