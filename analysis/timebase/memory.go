package timebase

import (
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

const (
	// agePPM is by how much the rate of a quartz crystal changes in a year as it ages
	// (what data sheets of crystals promise for the first year, from memory).
	agePPM = 5.0
	// bootPPM is by how much the rate may differ after a new start: where the processor
	// doesn't tell how fast its counter runs, the kernel measures it once more (the size is
	// common practice, no source).
	bootPPM = 10.0
	yearS   = 365.25 * 86400
	// leastTold is the least time in seconds from which a crystal is remembered.
	leastTold = 60
)

// Crystal is the rate of a host's bare crystal as an earlier session found it, and how
// long ago that was.
type Crystal struct {
	PPM  quantity.Value // plus = fast
	AgeS float64
	Boot string
}

// FindCrystal returns the rate of the bare crystal over a session, from readings of the
// host's clocks in it: by the rate at which the clock was steered, where a time service
// held it all the while, or by what a time reference told. ok is false where the
// readings don't tell.
//
// It is the rate of the steered clock less the steering, to first order: products of
// parts in a million are left out.
func FindCrystal(readings []sessions.HostReading, told []sessions.Reference, h Host) (ppm quantity.Value, ok bool) {
	steered, seconds, ok := Steered(readings)
	if !ok || seconds < leastTold {
		return quantity.Value{}, false
	}
	h.Synced = h.Synced && readings[0].Synced && readings[len(readings)-1].Synced
	own, ok := h.told(seconds), h.Synced
	var ref Reference
	for _, r := range told {
		ref.Add(r.HostMono, r.HostUTC, r.Nanos, r.ByPulse)
	}
	if by, _, found := ref.Host(seconds); found && (!ok || by.Half95() < own.Half95()) {
		own, ok = by, true
	}
	own.V -= steered
	return own, ok
}

// Steered returns by how many parts in a million a time service, or what it left behind,
// made the host's clock run faster than its bare crystal, from the first of the readings
// to the last, and the seconds between. ok is false where they aren't of one start of
// one host.
func Steered(readings []sessions.HostReading) (ppm, seconds float64, ok bool) {
	if len(readings) < 2 {
		return 0, 0, false
	}
	a, b := readings[0], readings[len(readings)-1]
	raw := b.RawNs - a.RawNs
	if a.Host != b.Host || a.Boot != b.Boot || raw <= 0 {
		return 0, 0, false
	}
	return (float64(b.MonoNs-a.MonoNs)/float64(raw) - 1) * 1e6, float64(raw) * 1e-9, true
}

// Recall returns the rate of the host's bare crystal as it is now, from those of earlier
// sessions: the one with the narrowest interval. U is 0 where there is none. Its
// uncertainty is that with which it was found, a limit of 5 ppm for another temperature,
// one of 5 ppm a year for age, and one of 10 ppm if the host was started anew since.
func Recall(earlier []Crystal, boot string) (ppm quantity.Value) {
	for _, c := range earlier {
		limits := []float64{wanderPPM, agePPM * c.AgeS / yearS}
		if c.Boot != boot {
			limits = append(limits, bootPPM)
		}
		found := c.PPM.Half95() / quantity.Normal95
		sources, u2 := []uncertainty.Source{{U: found}}, found*found
		for _, a := range limits {
			sources = append(sources, uncertainty.Source{U: a / math.Sqrt(3), Shape: uncertainty.Rectangular})
			u2 += a * a / 3
		}
		now := quantity.Value{V: c.PPM.V, U: math.Sqrt(u2), K: uncertainty.Coverage(sources)}
		if ppm.U == 0 || now.Half95() < ppm.Half95() {
			ppm = now
		}
	}
	return ppm
}
