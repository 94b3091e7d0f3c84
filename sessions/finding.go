package sessions

// Finding is what a part's readings are judged for.
type Finding string

// The findings that a measuring plan can name.
const (
	SpringFinding   Finding = "spring"   // a mainspring in its barrel
	PivotFinding    Finding = "pivot"    // a pivot in its bush
	WheelFinding    Finding = "wheel"    // a wheel and the pinion it drives
	PendulumFinding Finding = "pendulum" // a pendulum and the train's beat
)

// Findings lists every finding.
func Findings() []Finding {
	return []Finding{SpringFinding, PivotFinding, WheelFinding, PendulumFinding}
}

// Dimensions returns what a plan can measure for the finding, by the finding's own
// names; nil for a finding that isn't known.
func (f Finding) Dimensions() []string {
	switch f {
	case SpringFinding:
		return []string{"bore", "arbor", "strip", "height", "depth", "length", "inner", "coils", "free", "free-coils",
			"set-up", "stop-turns", "fusee-turns", "chain-turns"}
	case PivotFinding:
		return []string{"shoulder", "tip", "reach", "hole", "plate"}
	case WheelFinding:
		return []string{"wheel", "teeth", "pinion", "leaves", "centres"}
	case PendulumFinding:
		return []string{"length", "bob", "ten-threads"}
	}
	return nil
}

// Reads tells whether the finding takes a reading for that dimension. A reading whose
// plan names another finding isn't taken, whatever its dimension is called.
func (f Finding) Reads(r Reading, dimension string) bool {
	return r.Dimension == dimension && (r.Finding == "" || r.Finding == f)
}
