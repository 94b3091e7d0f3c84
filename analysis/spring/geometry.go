package spring

import "math"

// Barrel is the room a spring has, as bare numbers in metres: bore D of the
// barrel, diameter d of the arbor where the coil seats, thickness t of the strip.
//
// All formulas take the coils as lying close, so that the strip's section L·t is an
// area: wound on the arbor it fills a ring from d outwards, run down a ring from D
// inwards. Compared with a spiral of the same space the error is below a thousandth of a
// turn (TestClosedFormAgainstSpiral, which also shows the effect of a real strip's ends).
type Barrel struct{ Bore, Arbor, Strip float64 }

// Space returns the area between arbor and wall, π/4·(D² − d²), in m².
func (b Barrel) Space() float64 { return math.Pi / 4 * (b.Bore*b.Bore - b.Arbor*b.Arbor) }

// IdealLength returns the length that gives the greatest turns, in metres: the one
// that fills half the space, L* = π(D² − d²)/(8t). Source: rule of 1857, as given at
// mysterieuse-uhren.de/5.6-die-zugfeder.html; the maximum is checked along the
// spiral in TestGreatestTurnsAtIdealLength.
func (b Barrel) IdealLength() float64 { return b.Space() / (2 * b.Strip) }

// Fill returns the share of the space that a strip of length l metres takes.
func (b Barrel) Fill(l float64) float64 { return l * b.Strip / b.Space() }

// Wound returns the outer diameter of the coil wound on the arbor, √(d² + 4Lt/π).
func (b Barrel) Wound(l float64) float64 {
	return math.Sqrt(b.Arbor*b.Arbor + 4*l*b.Strip/math.Pi)
}

// Rundown returns the inner diameter of the coil run down against the wall,
// √(D² − 4Lt/π); NaN when the strip is more than the barrel holds.
func (b Barrel) Rundown(l float64) float64 {
	return math.Sqrt(b.Bore*b.Bore - 4*l*b.Strip/math.Pi)
}

// CoilsWound returns the number of coils about the arbor at full wind.
func (b Barrel) CoilsWound(l float64) float64 { return (b.Wound(l) - b.Arbor) / (2 * b.Strip) }

// CoilsRundown returns the number of coils against the wall when run down.
func (b Barrel) CoilsRundown(l float64) float64 { return (b.Bore - b.Rundown(l)) / (2 * b.Strip) }

// Turns returns the turns the barrel gives from full wind to run down: coils wound
// less coils run down, (Dw + Di − D − d)/(2t).
func (b Barrel) Turns(l float64) float64 { return b.CoilsWound(l) - b.CoilsRundown(l) }

// LengthByInner returns the length, in metres, of a spring that lies run down with
// its innermost coil inner metres across: π(D² − Di²)/(4t).
func (b Barrel) LengthByInner(inner float64) float64 {
	return math.Pi * (b.Bore*b.Bore - inner*inner) / (4 * b.Strip)
}

// LengthByCoils returns the length, in metres, of a spring that lies run down in n
// coils against the wall: π·n·(D − n·t).
func (b Barrel) LengthByCoils(n float64) float64 { return math.Pi * n * (b.Bore - n*b.Strip) }

// lost returns the share of the greatest turns that a fill f loses; 1 when the
// strip fills nothing or all.
func (b Barrel) lost(f float64) float64 {
	f = min(max(f, 0), 1)
	full := b.Space() / b.Strip
	return 1 - b.Turns(f*full)/b.Turns(full/2)
}
