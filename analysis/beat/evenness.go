package beat

import (
	"cmp"
	"fmt"
	"math"

	"evenbeat/devices/quantity"
)

// evenEnough is the share of the interval up to which the half-difference of
// tick and tock is left alone: a pendulum clock within a few per cent is in
// beat by ear (common practice, no source).
const evenEnough = 0.02

// InBeat says whether the clock is in beat. It is told where the whole interval of the
// beat error lies on one side of a fiftieth of the interval of the beat.
func (r Result) InBeat() (in, told bool) {
	limit := evenEnough * r.IntervalS
	if !(r.BeatError.U > 0) {
		return false, false
	}
	in = r.BeatError.High95() <= limit
	return in, in || r.BeatError.Low95() > limit
}

// InMs writes a time of the beat in milliseconds, by Text or another of Value's; one that
// was not found can't be told.
func InMs(v quantity.Value, write func(v quantity.Value, unit string) string) string {
	if !(v.U > 0) {
		return "cannot be told"
	}
	return write(v.Scale(1e3), "ms")
}

// evenness sets by how much tick and tock differ, if both are heard.
func (r *Result) evenness(f findings) {
	if f.offset.U == 0 || f.oneSide {
		return
	}
	r.TickTock = f.offset.Scale(-4 * f.truth)
	r.BeatError = quantity.Value{V: math.Abs(r.TickTock.V) / 2, U: r.TickTock.U / 2, K: r.TickTock.K}
}

func (a *Analyser) writeEvenness(r *Result, f findings) {
	if !(r.BeatError.U > 0) {
		why := "no three beats in a row were heard"
		if f.oneSide {
			why = fmt.Sprintf("the sensor hears one side, or the clock beats %.0f an hour", 1800/cmp.Or(a.o.NominalInterval, r.IntervalS))
			r.next("Move the sensor to where it hears tick and tock alike, or give the beats an hour as they are.")
		}
		r.warn("%s: the beat error cannot be told", why)
		return
	}
	verdict := "too uncertain to tell yet whether the clock needs setting in beat"
	switch in, told := r.InBeat(); {
	case in:
		verdict = "in beat"
	case told:
		verdict = "the clock is out of beat"
		r.next("Set it in beat: shift the crutch (or the case) a little to one side and listen again. The beats alone don't tell which side: if the difference grows, go the other way.")
	}
	difference := r.TickTock
	difference.V = math.Abs(difference.V)
	r.reason("Tick and tock differ by %s. Half of that is the beat error, %s ms or %.2g %% of the interval: %s.",
		difference.Scale(1e3).Text("ms"), r.BeatError.Scale(1e3).Plain("ms"), 100*r.BeatError.V/r.IntervalS, verdict)
}
