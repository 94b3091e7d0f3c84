package simulate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"evenbeat/devices"
)

// Step is a jump of the host's wall clock.
type Step struct{ At, By float64 } // s since the start; s, plus = forward

// HostConfig is the computer that listens, and what happens to its clocks.
type HostConfig struct {
	Start  time.Time
	PPM    float64 // how much faster than true time both its clocks go
	Steps  []Step  // of the wall clock, not of the monotonic one
	Sleeps []Span  // s since the start: it hears nothing and its monotonic clock stands
}

// Host turns true time into the host's stamps.
type Host struct{ cfg HostConfig }

// NewHost returns the host. Sleeps must be in order and not overlap: the error names
// the one that does.
func NewHost(cfg HostConfig) (*Host, error) {
	if !(math.Abs(cfg.PPM) <= 1e4) {
		return nil, fmt.Errorf("simulated host: clock %g ppm off: must be from -10000 to 10000", cfg.PPM)
	}
	end := 0.0
	for _, s := range cfg.Sleeps {
		if !(s.From >= end && s.To > s.From && s.To <= maxSpan) {
			return nil, fmt.Errorf("simulated host: sleep from %g to %g s: must begin at %g s or later and end after it begins", s.From, s.To, end)
		}
		end = s.To
	}
	for _, s := range cfg.Steps {
		if !(math.Abs(s.At) <= maxSpan && math.Abs(s.By) <= maxSpan) {
			return nil, fmt.Errorf("simulated host: step of %g s at %g s: both must be within %g s", s.By, s.At, maxSpan)
		}
	}
	cfg.Steps, cfg.Sleeps = slices.Clone(cfg.Steps), slices.Clone(cfg.Sleeps)
	return &Host{cfg}, nil
}

// Stamp returns what the host's clocks show at a time, in nanoseconds since the start.
func (h *Host) Stamp(at int64) devices.Stamp {
	asleep, stepped := 0.0, 0.0
	for _, s := range h.cfg.Sleeps {
		asleep += max(0, min(s.To*1e9, float64(at))-s.From*1e9)
	}
	for _, s := range h.cfg.Steps {
		if s.At*1e9 <= float64(at) {
			stepped += s.By * 1e9
		}
	}
	fast := int64(math.Round(float64(at) * h.cfg.PPM * 1e-6))
	awake := at - int64(math.Round(asleep))
	return devices.Stamp{
		UTC:  h.cfg.Start.UnixNano() + at + fast + int64(math.Round(stepped)),
		Mono: awake + int64(math.Round(float64(awake)*h.cfg.PPM*1e-6)),
	}
}

// Hears reports whether the host is awake at a time, in nanoseconds since the start.
// What instruments send to a sleeping host is lost.
func (h *Host) Hears(at int64) bool {
	return !slices.ContainsFunc(h.cfg.Sleeps, func(s Span) bool {
		return s.From*1e9 <= float64(at) && float64(at) < s.To*1e9
	})
}
