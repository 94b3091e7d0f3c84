package beat

import (
	"fmt"
	"math"
	"strconv"

	"evenbeat/analysis/timebase"
)

const (
	// resonatorPPM is the limit of error of a ceramic resonator (common practice, no
	// source).
	resonatorPPM = 5000
	ppmDay       = 86400 * 1e-6 // s/day for one part in a million
)

func (a *Analyser) writeTimeBase(r *Result, f findings) {
	b := f.base
	limit := b.Host.CrystalLimitPPM()
	switch {
	case b.Source == timebase.SourceDevice && !a.o.Stamped:
		r.warn("true time is taken from the sensor's count, at %s counts a second, and the interval leaves out that counter's own error: ±%.1f s/day for a crystal, ±%.0f s/day for a ceramic resonator",
			strconv.FormatFloat(a.o.CountRate, 'f', -1, 64), timebase.CrystalPPM*ppmDay, resonatorPPM*ppmDay)
	case !b.Fitted && a.o.CountRate > 0:
		r.warn("the run is too short to check the sensor's count against this computer's clock: its resonator may be off by ±%.0f s/day, which the interval includes; a minute of listening settles it", resonatorPPM*ppmDay)
	case b.Source == timebase.SourceReference:
		r.reason("By the time reference's %s this computer's clock is off by %s (+ is fast). That is corrected.", markedBy(b.ByPulse), b.HostPPM.Signed("ppm"))
	case r.TimeBase.Remembered:
		r.reason("By earlier sessions beside it, this computer's clock is off by %s (+ is fast). That is corrected; its interval allows for another temperature, for age, and for a new start since.", r.TimeBase.HostPPM.Signed("ppm"))
	case b.Host.Imported:
		over := b.Host.RatePPM(f.spanS).Half95()
		r.warn("these beats were imported: the clock that timed them is not known, and is taken as good to ±%.2g ppm, ±%.2g s/day over this run", over, over*ppmDay)
	case !b.Host.Synced && b.Host.Known:
		r.warn("this computer's clock is not synchronised: its crystal is taken as good to ±%g ppm, ±%.2g s/day (host.limit_ppm); the system's time service, or a time receiver with --reference, does better", limit, limit*ppmDay)
	case !b.Host.Synced:
		r.warn("whether this computer's clock is synchronised is not known: its crystal is taken as good to ±%g ppm, ±%.2g s/day (host.limit_ppm)", limit, limit*ppmDay)
	}
	if b.Fitted && !b.Host.Imported {
		r.reason("Against this computer's clock the sensor's count is off by %s (+ is fast). That is corrected.", b.CountPPM.Signed("ppm"))
	}
	if b.Source == timebase.SourceHost && b.Host.Synced && !r.TimeBase.Remembered {
		r.reason("Over this run the rate of this computer's clock is good to ±%.2g ppm, ±%.2g s/day.", r.TimeBase.HostPPM.Half95(), r.TimeBase.HostPPM.Half95()*ppmDay)
	}
	r.writeDelays(b)
	// The time reference and the host's clock may be farther apart than either allows.
	if q, own := b.HostPPM, b.Host.RatePPM(f.spanS); q.U != 0 && math.Abs(q.V-own.V) > math.Hypot(q.Half95(), own.Half95()) {
		r.warn("this computer's clock and the time reference are %s apart, more than this clock's limit of ±%.2g ppm: check that the receiver has its time, and that the computer's time service has the right one", q.Signed("ppm"), own.Half95())
	}
	if b.Steps > 0 {
		r.warn("this computer's clock was stepped %s (%+.3g s in all); the timing uses its monotonic clock, which was not", times(b.Steps), b.StepSumS)
	}
	r.writeSensorSteps(f.sensor)
	if n := f.tally.Breaks - f.sensor.Times; n > 0 {
		r.warn("the count broke off %s (the counter restarted, or wrapped unseen): the run is cut there", times(n))
	}
}

// writeSensorSteps tells where a sensor's clock was set.
func (r *Result) writeSensorSteps(s timebase.SensorSteps) {
	switch by := s.First.Signed("s"); s.Times {
	case 0:
	case 1:
		r.warn("the sensor's clock was stepped once, by %s, %.0f s after the first beat: the run is cut there", by, s.AtS)
	default:
		r.warn("the sensor's clock was stepped %s, first by %s, %.0f s after the first beat: the run is cut at each step", times(s.Times), by, s.AtS)
	}
}

// writeDelays tells of even steps at which the sensor's messages arrive.
func (r *Result) writeDelays(b timebase.Base) {
	switch step := 1e3 * b.StepS; {
	case b.Polled:
		r.reason("By their times of arrival, the sensor's messages reach this computer only every %.3g ms: the adaptor or the port is polled. The interval allows for that.", step)
	case step > 0:
		r.reason("The sensor's messages may reach this computer only every %.3g ms, as through an adaptor that is polled; their times of arrival don't tell. The interval allows for that.", step)
	}
}

// remedy says what would narrow the interval that longer listening doesn't.
func (f findings) remedy() string {
	b := f.base
	switch {
	case b.Source != timebase.SourceHost || b.Host.RatePPM(f.spanS).Half95()*ppmDay < wanted:
		return "the clock itself wanders; see how it goes over days."
	case b.Host.Imported:
		return "the clock behind the imported times isn't known that well. Time this clock beside a synchronised computer."
	}
	return "synchronise this computer's clock, or time with --reference beside a time receiver."
}

// timeBase returns what the result says of the time base of a run of spanS seconds.
func timeBase(b timebase.Base, spanS float64) TimeBase {
	t := TimeBase{OffsetPPM: b.OffsetPPM, Source: b.Source, HostSynchronised: b.Host.Synced, Imported: b.Host.Imported,
		ByPulse: b.Source == timebase.SourceReference && b.ByPulse, DelayStepS: b.StepS}
	if b.Fitted && !b.Host.Imported {
		t.CountPPM = &b.CountPPM
	}
	switch b.Source {
	case timebase.SourceHost:
		own := b.Host.RatePPM(spanS)
		t.HostPPM, t.Remembered = &own, b.Host.ByMemory(spanS)
	case timebase.SourceReference:
		t.HostPPM = &b.HostPPM
	}
	return t
}

// From says where true time was taken from.
func (t TimeBase) From() string {
	switch t.Source {
	case timebase.SourceDevice:
		return "the sensor's own count, taken as it is"
	case timebase.SourceReference:
		return "a time reference, by its " + markedBy(t.ByPulse)
	case timebase.SourceHost:
		switch {
		case t.Remembered:
			return "this computer's clock, as earlier sessions found it"
		case t.HostSynchronised:
			return "this computer's clock, synchronised"
		case t.Imported:
			return "the imported times, by a clock that isn't known"
		}
		return "this computer's clock, not known to be synchronised"
	}
	return t.Source
}

// markedBy names by what a time reference marks the time.
func markedBy(pulse bool) string {
	if pulse {
		return "pulses"
	}
	return "sentences"
}

func times(n int64) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
