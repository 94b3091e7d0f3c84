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
	Imported  bool    // the stamps are the times in a file, by a clock that isn't known
	// LimitPPM is the limit of error of its crystal left to itself; 0 = CrystalPPM.
	LimitPPM float64
	// Crystal is by how many parts in a million its bare crystal runs fast, as earlier
	// sessions found it; U is 0 where none did. SteeredPPM is by how much the clock ran
	// faster than its crystal over the run, if HasSteered.
	Crystal    quantity.Value
	SteeredPPM float64
	HasSteered bool
	// LongestS is the longest stretch in seconds over which the clock ran without being set,
	// where a run is longer than that; 0 = the whole run.
	LongestS float64
}

// CrystalPPM is the limit of error of a quartz crystal as it is sold, left to itself
// (common practice, no source).
const CrystalPPM = 50.0

const (
	// syncedOffsetS is the standard uncertainty of a disciplined clock's time (common
	// practice, no source).
	syncedOffsetS = 1e-3
	// steeredPPM bounds the rate of a clock in the hands of a time service (the tolerance
	// that adjtimex(2) tells is 500 ppm).
	steeredPPM = 500.0
	// floorPPM is what remains of a disciplined clock's rate over a long run (common
	// practice, no source).
	floorPPM = 0.02
)

// CrystalLimitPPM returns the limit of error of the host's crystal left to itself.
func (h Host) CrystalLimitPPM() float64 { return cmp.Or(h.LimitPPM, CrystalPPM) }

// ByMemory tells that what earlier sessions found is the best that is known of the host's
// rate over a run of so many seconds.
func (h Host) ByMemory(durationS float64) bool {
	return h.HasSteered && h.Crystal.U > 0 && h.Crystal.Half95() < h.told(durationS).Half95()
}

// RatePPM returns by how many parts in a million the host's clock runs fast over a run of
// so many seconds: what is remembered of it, or else zero with the uncertainty of told.
func (h Host) RatePPM(durationS float64) quantity.Value {
	if !h.ByMemory(durationS) {
		return h.told(durationS)
	}
	v := h.Crystal
	v.V += h.SteeredPPM
	return v
}

// told returns the uncertainty of the rate of the host's clock over a run of
// so many seconds, as a value of zero. Undisciplined, the crystal's limit of error
// counts (K = 1.645: 95 % of a rectangle). Disciplined, the rate is off by the
// difference of the time's errors at the two ends, over the run:
//
//	u = √2 u(x) / T
//
// with u(x) of 1 ms, or the system's own bound over √3 where that is smaller. That holds
// for short runs too: a time service puts each error that it finds right within seconds
// or minutes, and makes the clock run fast or slow meanwhile (RFC 5905, section 11.3;
// ADJ_OFFSET in adjtimex(2)). How well it knows the crystal says nothing of that. Over
// a few seconds the kernel's limit of 500 ppm is the narrower.
//
// A file of times doesn't tell how late each of them came. Over the run the first may have
// come late by the longest step of a polled adaptor, and the last not, or the other way round.
func (h Host) told(durationS float64) quantity.Value {
	if h.Imported {
		return by(rectangle(1e6*mostStepS/durationS), rectangle(h.CrystalLimitPPM()))
	}
	if !h.Synced {
		return rectangle(h.CrystalLimitPPM())
	}
	if h.LongestS > 0 {
		durationS = min(durationS, h.LongestS)
	}
	end := syncedOffsetS
	if h.MaxErrorS > 0 {
		end = min(end, h.MaxErrorS/math.Sqrt(3))
	}
	steered := rectangle(steeredPPM)
	if u := 1e6 * math.Sqrt2 * end / durationS; u < steered.U {
		return quantity.Value{U: math.Hypot(u, floorPPM)}
	}
	return steered
}
