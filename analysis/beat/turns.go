package beat

import "math"

// sincosOf returns the sine and the cosine of an angle in turns. Whole turns are taken
// off, so that after a million of them the angle has its digits still.
func sincosOf(turns float64) (sin, cos float64) {
	return math.Sincos(2 * math.Pi * (turns - math.Floor(turns)))
}

// raisedCosine is the window over u from 0 to 1, of mean 1.
func raisedCosine(u float64) float64 { return 1 - math.Cos(2*math.Pi*u) }
