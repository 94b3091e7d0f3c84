package pendulum

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"evenbeat/devices/quantity"
)

// maxArc is the widest semi-amplitude taken, in radians (60°).
const maxArc = math.Pi / 3

// CircularError returns the rate, in s/day, that a pendulum loses by swinging in a
// circular arc of the given semi-amplitude (from the middle to one side, 0 to π/3
// rad), against one of vanishing arc, as a positive number:
//
//	86400·(1 − T₀/T),  T/T₀ = (2/π)·K(sin²(a/2))
//
// with the complete elliptic integral K of parameter m. It doesn't depend on the
// length. To second order it is 5400·a² (Beckett, Rudimentary Treatise, 8th ed.,
// p. 34).
func CircularError(arc float64) (float64, error) {
	if !(arc >= 0 && arc <= maxArc) {
		return 0, quantity.BadInput("semi-amplitude", arc, "must be from 0 to 1.05 rad (60°)")
	}
	s := math.Sin(arc / 2)
	r := 2 / math.Pi * mathext.CompleteK(s*s)
	return 86400 * (1 - 1/r), nil
}

// PressureRange returns what the air's pressure does to pendulum clocks, in s/day
// for 1 hPa more, from least to most. What was found on real clocks lies within it (0.2 to
// 0.4 s/day per inch by shape of bob, Matthys, Accurate Clock Pendulums, 2004; 0.3
// for good clocks, Beckett p. 73; 0.676 by least squares over a year, Hong Kong
// Observatory 1916, reported there as about twice what theory allows).
func PressureRange() (least, most float64) { return -0.005, -0.020 }
