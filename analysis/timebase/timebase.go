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
)

// Base is the time base of a run.
type Base struct {
	// OffsetPPM is by how much the device counts too fast by the source, in parts
	// in a million. Its uncertainty includes the line's and the host clock's own.
	OffsetPPM quantity.Value
	Source    string
	Host      Host
	// CountPPM is by how much the device counts too fast by the host's clock as it is, with
	// the uncertainty of that comparison alone; U is 0 where there was none.
	CountPPM quantity.Value
	// HostPPM is by how much the host's clock runs fast by the time reference, with
	// its uncertainty; U is 0 if there was none, or too little of it.
	HostPPM quantity.Value
	ByPulse bool // HostPPM is by the reference's pulses, and not by its sentences
	Fitted  bool
	// StepS is the step in seconds at which the device's messages reach the host, by their
	// stamps: Polled says that they do, otherwise they may. It is 0 if they don't. The
	// offset's uncertainty allows for delays that glide by as much.
	StepS    float64
	Polled   bool
	Steps    int64   // of the host's UTC against its monotonic time
	StepSumS float64 // their sum, seconds
}

// Base returns the time base of the events so far, over a run of durationS.
func (f *Line) Base(h Host, durationS float64) Base {
	b := Base{Source: SourceHost, Host: h, Steps: f.steps, StepSumS: f.stepSum}
	g := f.closed()
	off, ok := g.sums.offset()
	// Else only the count at its nominal rate is left, by a poor resonator.
	if count := rectangle(worstRate / 2 * 1e6); !ok || off.Half95() > count.Half95() {
		b.Source, b.OffsetPPM = SourceDevice, count
		return b
	}
	b.Fitted, b.StepS, b.Polled = true, g.polled.step, g.polled.sure
	b.CountPPM, b.OffsetPPM = off, by(off, h.RatePPM(durationS))
	return b
}

// by returns the count's offset from true time, from that against a host's clock and that
// of the host's clock itself. Where both are mostly limits of error (a port that
// hands over in even steps, a computer that nothing keeps in time), quadrature would be
// up to 14 % too narrow, and the limits are added as such.
func by(count, host quantity.Value) quantity.Value {
	v := Both(count, host)
	if mostlyLimit(count) && mostlyLimit(host) {
		v.K = limits95(count.Half95()/0.95, host.Half95()/0.95) / v.U
	}
	v.V = count.V + host.V + count.V*host.V*1e-6
	return v
}

// mostlyLimit reports whether a limit of error rules a value's uncertainty: 95 % of a
// rectangle lie within K = 1.645, of a normal distribution within 1.96.
func mostlyLimit(v quantity.Value) bool { return v.U > 0 && v.K > 0 && v.K < 1.75 }

// limits95 returns the half-width that holds 95 % of the sum of two errors within ±a and
// ±b. Of the trapezoid, (a+b−x)²/(4ab) lies beyond ±x on its slopes, and 1−x/a on its top.
func limits95(a, b float64) float64 {
	a, b = max(a, b), min(a, b)
	if b <= 0.05*a {
		return 0.95 * a
	}
	return a + b - math.Sqrt(0.2*a*b)
}

// Both returns a with b's uncertainty added. Standard uncertainties, and half-widths of
// the 95 % intervals, are added in quadrature (JCGM 100:2008, 5.1.2). For half-widths
// this is exact where both are normal. Of two limits of error it is up to 14 % too narrow,
// which by mends.
func Both(a, b quantity.Value) quantity.Value {
	u := math.Hypot(a.U, b.U)
	v := quantity.Value{V: a.V, U: u}
	if u > 0 {
		v.K = math.Hypot(a.Half95(), b.Half95()) / u
	}
	return v
}
