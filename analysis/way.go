package analysis

import (
	"slices"

	"evenbeat/sessions"
)

// way is what decides the error of a dimension: the kind of its reading, and where
// that doesn't settle it, what was measured. Readings of one instrument taken the
// same way share its error.
type way string

// The ways that are no kind of reading.
const (
	wayRule   way = "along a rule"
	wayCoils  way = "coils"
	wayTeeth  way = "teeth"
	wayTurns  way = "turns"
	wayTorque way = "torque"
)

// wayOf returns the way in which a dimension was taken by a reading of that kind.
func wayOf(dimension string, kind sessions.Kind) way {
	switch {
	case dimension == "torque":
		return wayTorque
	case kind == sessions.Typed && dimension == "length":
		return wayRule
	case kind == sessions.Count && slices.Contains([]string{"teeth", "leaves", "stop-turns"}, dimension):
		return wayTeeth
	case kind == sessions.Count && slices.Contains([]string{"set-up", "fusee-turns", "chain-turns"}, dimension):
		return wayTurns
	case kind == sessions.Count:
		return wayCoils
	}
	return way(kind)
}

// counted reports whether it was counted, so that no instrument's error is in it.
func (w way) counted() bool { return w == wayCoils || w == wayTeeth || w == wayTurns }

// byJaws reports whether a size was taken between jaws or with the rod, whose zero
// error is in it.
func (w way) byJaws() bool {
	return w == way(sessions.Outside) || w == way(sessions.Inside) || w == way(sessions.Depth)
}
