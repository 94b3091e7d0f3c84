package simulate

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

const (
	day = 86400.0
	// maxAmplitude bounds the semi-amplitude, in radians: beyond 30° no clock's
	// pendulum swings.
	maxAmplitude = math.Pi / 6
)

// CircularLoss returns what a free pendulum loses by swinging through a finite
// arc, in s/day, at semi-amplitude a in radians, |a| < π:
//
//	86400·(1 − T₀/T),  T/T₀ = (2/π)·K(m),  m = sin²(a/2)
//
// K is the complete elliptic integral of the first kind of parameter m. It is
// the exact form of 5400·a² (Beckett, Rudimentary Treatise on Clocks, Watches,
// and Bells, 8th ed., p. 34). Outside the range it returns the value at the
// nearest angle it is sure of, 179°, since a pendulum at 180° stands still.
func CircularLoss(a float64) float64 {
	a = min(math.Abs(a), 179*math.Pi/180)
	s := math.Sin(a / 2)
	return day * (1 - math.Pi/2/mathext.CompleteK(s*s))
}

// RodCoefficient returns the change of rate in s/day for a kelvin more, of a
// plain rod that grows by alpha per kelvin: −43200·α, since the period goes with
// the root of the length (rods as in Beckett, p. 53).
func RodCoefficient(alpha float64) float64 { return -day / 2 * alpha }

// HalfPeriodDifference returns the difference of a clock's two half-periods in
// seconds: the escapement acts off the middle of the swing by the angle offset,
// the semi-amplitude is amplitude (both in radians), and a half-period takes
// interval seconds:
//
//	(4T/π)·asin(ε/A)
//
// Sinusoidal motion; closed form. An offset beyond the arc is taken as the arc:
// such a clock would stop.
func HalfPeriodDifference(interval, offset, amplitude float64) float64 {
	if !(amplitude > 0) {
		return 0
	}
	return 4 * interval / math.Pi * math.Asin(max(-1, min(1, offset/amplitude)))
}

// Degrees turns degrees into radians.
func Degrees(deg float64) float64 { return deg * math.Pi / 180 }
