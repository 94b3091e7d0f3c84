// Package timebase finds the true time of a beat sensor's events. A sensor's own
// resonator can be off by half a per cent, which is 430 s a day. Its count is
// therefore never trusted, but compared with the host's monotonic time.
package timebase

import (
	"math"

	"evenbeat/devices/quantity"
)

// Where true time was taken from.
const (
	SourceHost      = "host"      // the host's clock
	SourceDevice    = "device"    // the device's count at its nominal rate
	SourceReference = "reference" // a time reference
	SourceNone      = "none"
)

// Host says how well the host's own clock is known.
type Host struct {
	Known     bool    // the system says whether its clock is disciplined
	Synced    bool    // it is
	MaxErrorS float64 // the system's own bound on its clock's error, seconds; 0 = not known
}

const (
	// crystalPPM is the limit of error of a computer's crystal left to itself
	// (common practice, no source).
	crystalPPM = 50.0
	// syncedOffsetS is the standard uncertainty of a disciplined clock's time, and
	// lockedPPM of its rate however short the run (common practice, no source).
	syncedOffsetS = 1e-3
	lockedPPM     = 1.0
	// floorPPM is what remains of a disciplined clock's rate over a long run.
	floorPPM = 0.02
)

// RatePPM returns the uncertainty of the rate of the host's clock over a run of
// so many seconds, as a value of zero. Undisciplined, a limit of error of 50 ppm
// is assumed (K = 1.645: 95 % of a rectangle). Disciplined, the time at the two
// ends is good to 1 ms (or the system's own bound over √3 where that is smaller),
// so the rate to √2 ms over the run, but never worse than 1 ppm nor better than
// 0.02 ppm. These limits are common practice, no source.
func (h Host) RatePPM(durationS float64) quantity.Value {
	if !h.Synced {
		return quantity.Value{U: crystalPPM / math.Sqrt(3), K: 0.95 * math.Sqrt(3)}
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

// Base is the time base of a run.
type Base struct {
	// OffsetPPM is by how much the device counts too fast by the source, in parts
	// in a million. Its uncertainty includes the line's and the host clock's own.
	OffsetPPM quantity.Value
	Source    string
	Host      Host
	// HostPPM is by how much the host's clock runs fast by the time reference, with
	// its uncertainty; U is 0 if there was none, or too little of it.
	HostPPM  quantity.Value
	ByPulse  bool // HostPPM is by the reference's pulses, and not by its sentences
	Fitted   bool
	Segments int64   // stretches over which count and host's time run on together
	Steps    int64   // of the host's UTC against its monotonic time
	StepSumS float64 // their sum, seconds
}

// Base returns the time base of the events so far, over a run of durationS.
func (f *Line) Base(h Host, durationS float64) Base {
	b := Base{Source: SourceHost, Host: h, Segments: f.segments, Steps: f.steps, StepSumS: f.stepSum}
	off, ok := f.Offset()
	own := h.RatePPM(durationS)
	if !ok {
		// Only the count at its nominal rate is left, by a poor resonator.
		b.Source = SourceDevice
		b.OffsetPPM = quantity.Value{U: worstRate / 2 * 1e6 / math.Sqrt(3), K: 0.95 * math.Sqrt(3)}
		return b
	}
	b.Fitted = true
	b.OffsetPPM = Both(off, own)
	return b
}

// Both returns a with b's uncertainty added. Standard uncertainties, and half-widths of
// the 95 % intervals, are added in quadrature (JCGM 100:2008, 5.1.2). For half-widths
// this is exact where both are normal, and a few per cent too wide otherwise.
func Both(a, b quantity.Value) quantity.Value {
	u := math.Hypot(a.U, b.U)
	v := quantity.Value{V: a.V, U: u}
	if u > 0 {
		v.K = math.Hypot(a.Half95(), b.Half95()) / u
	}
	return v
}
