package timebase

import (
	"cmp"
	"math"

	"evenbeat/devices/quantity"
)

// Host says how well the host's own clock is known.
type Host struct {
	Known     bool    // the system says whether its clock is disciplined
	Synced    bool    // it is
	MaxErrorS float64 // the system's own bound on its clock's error, seconds; 0 = not known
	// LimitPPM is the limit of error of its crystal left to itself; 0 = CrystalPPM.
	LimitPPM float64
}

// CrystalPPM is the limit of error of a quartz crystal as it is sold, left to itself
// (common practice, no source).
const CrystalPPM = 50.0

const (
	// syncedOffsetS is the standard uncertainty of a disciplined clock's time, and
	// lockedPPM of its rate however short the run (common practice, no source).
	syncedOffsetS = 1e-3
	lockedPPM     = 1.0
	// floorPPM is what remains of a disciplined clock's rate over a long run.
	floorPPM = 0.02
)

// CrystalLimitPPM returns the limit of error of the host's crystal left to itself.
func (h Host) CrystalLimitPPM() float64 { return cmp.Or(h.LimitPPM, CrystalPPM) }

// RatePPM returns the uncertainty of the rate of the host's clock over a run of
// so many seconds, as a value of zero. Undisciplined, the crystal's limit of error
// counts (K = 1.645: 95 % of a rectangle). Disciplined, the time at the two
// ends is good to 1 ms (or the system's own bound over √3 where that is smaller),
// so the rate to √2 ms over the run, but never worse than 1 ppm nor better than
// 0.02 ppm. These limits are common practice, no source.
func (h Host) RatePPM(durationS float64) quantity.Value {
	if !h.Synced {
		return rectangle(h.CrystalLimitPPM())
	}
	end := syncedOffsetS
	if h.MaxErrorS > 0 {
		end = min(end, h.MaxErrorS/math.Sqrt(3))
	}
	u := lockedPPM
	if durationS > 0 {
		u = min(u, 1e6*math.Sqrt2*end/durationS)
	}
	return quantity.Value{U: math.Hypot(u, floorPPM)}
}
