package simulate

import "math"

// Barrel is the true shape of a spring and its barrel; lengths in metres.
type Barrel struct {
	Bore, Arbor float64 // mean diameters
	BoreOval    float64 // greatest less least diameter of the bore
	ArborOval   float64
	OvalAt      float64 // radians, where the greatest diameters stand
	Inside      float64 // inside depth, from floor to lid
	Strip       float64 // mean thickness
	Taper       float64 // thickness at the outer end less that at the inner
	Height      float64 // mean
	HeightTaper float64
	Length      float64
}

// BoreAt returns the bore across the angle, in radians.
func (b Barrel) BoreAt(angle float64) float64 {
	return b.Bore + b.BoreOval/2*math.Cos(2*(angle-b.OvalAt))
}

// ArborAt returns the arbor's diameter across the angle, in radians.
func (b Barrel) ArborAt(angle float64) float64 {
	return b.Arbor + b.ArborOval/2*math.Cos(2*(angle-b.OvalAt))
}

// StripAt returns the thickness at a share of the length from the inner end, 0 to 1.
func (b Barrel) StripAt(share float64) float64 { return b.Strip + b.Taper*(share-0.5) }

// HeightAt returns the height of the strip at a share of the length, 0 to 1.
func (b Barrel) HeightAt(share float64) float64 { return b.Height + b.HeightTaper*(share-0.5) }

// room is the free area between arbor and wall, m².
func (b Barrel) room() float64 { return math.Pi / 4 * (b.Bore*b.Bore - b.Arbor*b.Arbor) }

// Fill returns the strip's share of the free area.
func (b Barrel) Fill() float64 { return b.Length * b.Strip / b.room() }

// IdealLength returns the length that fills half the free area, in metres.
func (b Barrel) IdealLength() float64 { return b.room() / 2 / b.Strip }

// Turns returns how many turns the barrel can be wound, with the coils lying close:
//
//	(√(d² + 4Lt/π) + √(D² − 4Lt/π) − D − d) / (2t)
//
// It returns 0 if the strip doesn't go into the barrel. Closed form, from areas.
func (b Barrel) Turns() float64 {
	if b.Fill() >= 1 {
		return 0
	}
	a := 4 * b.Length * b.Strip / math.Pi
	wound, down := math.Sqrt(b.Arbor*b.Arbor+a), math.Sqrt(b.Bore*b.Bore-a)
	return (wound + down - b.Bore - b.Arbor) / (2 * b.Strip)
}
