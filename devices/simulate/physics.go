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

// CircularLoss returns how much a free pendulum loses by swinging through a finite arc,
// in s/day, at semi-amplitude a in radians, |a| < π:
//
//	86400·(1 − T₀/T),  T/T₀ = (2/π)·K(m),  m = sin²(a/2)
//
// K is the complete elliptic integral of the first kind of parameter m. It is the exact
// form of 5400·a² (Beckett, Rudimentary Treatise on Clocks, Watches, and Bells, 8th ed.,
// p. 34). Beyond 179° it returns the value there, since a pendulum at 180° stands still.
func CircularLoss(a float64) float64 {
	a = min(math.Abs(a), 179*math.Pi/180)
	s := math.Sin(a / 2)
	return day * (1 - math.Pi/2/mathext.CompleteK(s*s))
}

// RodCoefficient returns the change of rate in s/day per kelvin, of a plain rod that
// grows by alpha per kelvin: −43200·α, since the period goes with the root of the
// length (rods as in Beckett, p. 53).
func RodCoefficient(alpha float64) float64 { return -day / 2 * alpha }

// HalfPeriodDifference returns the difference of a clock's two half-periods, in
// seconds:
//
//	(4T/π)·asin(ε/A)
//
// ε is the angle from the middle of the swing at which the escapement acts, A the
// semi-amplitude, both in radians, and T the half-period in seconds. Sinusoidal motion,
// closed form. An offset beyond the arc is taken as the arc: such a clock would stop.
func HalfPeriodDifference(interval, offset, amplitude float64) float64 {
	if !(amplitude > 0) {
		return 0
	}
	return 4 * interval / math.Pi * math.Asin(max(-1, min(1, offset/amplitude)))
}

// Degrees turns degrees into radians.
func Degrees(deg float64) float64 { return deg * math.Pi / 180 }
