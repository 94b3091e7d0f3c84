// Package pendulum holds the formulas of pendulums: the length for a beat, and what heat, air, arc
// and the rating nut do to the rate. Rates are in
// s/day, plus = the clock gains.
package pendulum

import (
	"math"

	"evenbeat/devices/quantity"
)

// halfDay is half the seconds of a day. A pendulum that is longer by a small share
// loses that share of it, since the period goes with the root of the length.
const halfDay = 43200

func positive(name string, v float64) error {
	if !(v > 0) || math.IsInf(v, 1) {
		return quantity.BadInput(name, v, "must be a positive number")
	}
	return nil
}

// Gravity returns normal gravity on the ellipsoid of the Geodetic Reference System
// 1980 in m/s², brought to a height in metres by the free-air gradient:
//
//	g = 9.7803267715·(1 + 0.001931851353·sin²φ)/√(1 − 0.00669438002290·sin²φ) − 3.086e-6·h
//
// Latitude φ is in degrees, −90 to 90, height −500 to 9000 m. The standard
// uncertainty of 25 mGal (2.5e-4 m/s², 1.1 s/day) is what real ground differs by
// from the formula: common practice, no source. Source of the formula: H. Moritz,
// Geodetic Reference System 1980, from memory; of the gradient, from memory.
func Gravity(latitude, height float64) (quantity.Value, error) {
	if !(latitude >= -90 && latitude <= 90) {
		return quantity.Value{}, quantity.BadInput("latitude", latitude, "must be from -90 to 90 degrees")
	}
	if !(height >= -500 && height <= 9000) {
		return quantity.Value{}, quantity.BadInput("height above the sea", height, "must be from -500 to 9000 m")
	}
	s := math.Sin(latitude * math.Pi / 180)
	s *= s
	g := 9.7803267715*(1+0.001931851353*s)/math.Sqrt(1-0.00669438002290*s) - 3.086e-6*height
	return quantity.Value{V: g, U: 2.5e-4}, nil
}

// GravityAnywhere returns gravity in m/s² where the place is not known: the middle
// between equator and pole, with an interval that holds all from the equator at 1500
// m to the pole.
func GravityAnywhere() quantity.Value {
	const low, high = 9.775, 9.833
	return quantity.Value{V: (low + high) / 2, U: (high - low) / 2 / math.Sqrt(3), K: math.Sqrt(3)}
}

// Length returns the effective length, in metres, of a pendulum that beats (half a
// period, small arc, no air) in the given seconds under gravity g in m/s²:
// L = g·T²/π². Its uncertainty is that of g.
func Length(beat float64, g quantity.Value) (quantity.Value, error) {
	if err := positive("beat", beat); err != nil {
		return quantity.Value{}, err
	}
	if err := positive("gravity", g.V); err != nil {
		return quantity.Value{}, err
	}
	return g.Scale(beat * beat / (math.Pi * math.Pi)), nil
}

// BallCentre returns how far below the suspension, in metres, a ball of radius r
// whose middle is at distance l swings as if all its weight were: l + (2/5)·r²/l,
// for 0 ≤ r < l in metres. Source: Derham, The Artificial Clock-maker, 1696, p. 74.
func BallCentre(l, r float64) float64 { return l + 0.4*r*r/l }

// NutPerTurn returns the gain in s/day of one turn of a rating nut that raises the
// bob by pitch metres, at an effective length in metres:
//
//	86400·(1/√(1 − p/L) − 1)
//
// which is 43200·p/L to first order (Beckett, Rudimentary Treatise, 8th ed., p. 50:
// l/720 for a minute a day). The whole mass is taken to move with the nut: see NutShare.
func NutPerTurn(pitch float64, length quantity.Value) (quantity.Value, error) {
	if err := positive("length", length.V); err != nil {
		return quantity.Value{}, err
	}
	if !(pitch > 0 && pitch < length.V/2) {
		return quantity.Value{}, quantity.BadInput("pitch of the nut", pitch, "must be positive and a small part of the pendulum's length, in metres")
	}
	x := pitch / length.V
	v := 2 * halfDay * (1/math.Sqrt(1-x) - 1)
	return quantity.Value{V: v, U: v * length.U / length.V, K: length.K}, nil
}

// NutShare returns what a turn of the nut does as a share of NutPerTurn: by the rod
// anywhere from least to most, times the pitch's error, of standard uncertainty u.
//
// The nut doesn't move the rod, so the centre of oscillation moves less than the bob. Of
// a uniform rod as long as the pendulum and µ times as heavy as the bob it leaves, to
// first order in the pitch,
//
//	(1 + 2µ/3)/(1 + µ/2)²
//
// which is 0.97 for a tenth and 0.85 for a half, and never above 1. A pitch is noted to a
// tenth of a millimetre: the limit of 0.05 mm is u = 3 % of 1 mm. Source: the compound
// pendulum's length, by our own sum; that half the bob is the heaviest rod and a tenth
// the step is our own choice.
func NutShare() (least, most, u float64) { return 0.85, 1, 0.03 }
