package beat

import (
	"math"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
)

// widestAmplitude, in radians (20°), is more than any clock's pendulum has.
const widestAmplitude = math.Pi / 9

// flag is what blocks the light of a two-edge gate.
type flag struct {
	angle     float64 // radians, seen from the pivot
	relativeU float64
}

// gauge returns the flag's angle from its width w at distance d from the pivot:
// 2·atan(w/2d).
func gauge(w, d quantity.Value) flag {
	return flag{angle: 2 * math.Atan(w.V/(2*d.V)), relativeU: math.Hypot(w.U/w.V, d.U/d.V)}
}

// semiAmplitude returns how far the pendulum swings to one side, in radians, from
// the time tau that its flag blocks the light and the interval T from beat to beat
// (half a period), in one unit:
//
//	A = θ / (2·cos φ·sin(π·τ/(2T)))
//
// θ is the flag's angle. The pendulum is taken to swing as A·sin(πt/T): between
// π·t/T = φ ± π·τ/(2T) it goes through the angle θ. φ is how far the gate lies from
// the middle of the swing, from the difference D of the two intervals: φ = π·D/(4T).
// For a true pendulum A comes out too great by the part A²/48, 6·10⁻⁵ at 3°. The
// light is taken to be a line: a beam as wide as b makes θ uncertain by up to b/d.
// Source: the closed form of sinusoidal motion.
func (f flag) semiAmplitude(tau, interval, difference float64) float64 {
	return f.angle / (2 * math.Cos(math.Pi*difference/(4*interval)) * math.Sin(math.Pi*tau/(2*interval)))
}

// amplitude finds the amplitude and what follows from it. counted is the interval and
// difference that of the two intervals, in seconds by the count, whose own error cancels.
func (a *Analyser) amplitude(r *Result, counted, difference float64) {
	passes := a.numbers.Blocking()
	if a.o.Flag.V == 0 {
		if passes != nil && passes.Any() {
			r.next("The sensor sends both edges of the light gate: give the flag's width and its distance from the pivot to learn the pendulum's amplitude.")
		}
		return
	}
	var l numbering.BlockingLine
	ok := passes != nil
	if ok {
		l, ok = passes.Line()
	}
	if !ok {
		r.warn("the flag's width is given, but the sensor doesn't send two edges a beat: the amplitude needs to know when the light is blocked and when it is clear")
		return
	}
	f, sec := gauge(a.o.Flag, a.o.FlagDistance), a.o.tickS()
	at := func(ticks float64) float64 { return f.semiAmplitude(ticks*sec, counted, difference) }
	mid := at(l.Mid)
	first, last := at(l.Mid-l.Slope*l.Span/2), at(l.Mid+l.Slope*l.Span/2)
	if !(max(mid, first, last) < widestAmplitude) || !(min(mid, first, last) > 0) {
		r.warn("the flag's width and distance make a semi-amplitude of %.3g°, which no clock has: were the two swapped, or is the light off the middle of the swing?", mid*degrees)
		return
	}
	amp := quantity.Value{V: mid * degrees, U: mid * degrees * math.Hypot(f.relativeU, l.MidU/l.Mid)}
	r.Amplitude = &amp
	loss, slope := arcLoss(mid)
	r.CircularError = &quantity.Value{V: loss, U: slope / degrees * amp.U}
	r.AmplitudeEffect = &AmplitudeEffect{PerDegree: quantity.Value{V: -slope / degrees, U: curve / degrees / degrees * amp.U}, Passes: int64(l.N)}
	if l.Span > 0 && l.Changes {
		change := (last - first) * degrees
		u := math.Hypot(amp.V*l.SlopeU*l.Span/l.Mid, change*f.relativeU)
		r.AmplitudeEffect.Change = &quantity.Value{V: change, U: u}
		lossFirst, _ := arcLoss(first)
		lossLast, _ := arcLoss(last)
		r.AmplitudeEffect.Explains = &quantity.Value{V: lossFirst - lossLast, U: math.Hypot(slope/degrees*u, (lossFirst-lossLast)*f.relativeU)}
	}
}

const (
	degrees = 180 / math.Pi
	// curve is the second derivative of the circular error by the semi-amplitude,
	// s/day per radian squared, to second order: 2·5400 (see pendulum.CircularError).
	curve = 10800
)

// arcLoss returns the circular error in s/day and its derivative by the
// semi-amplitude, s/day per radian. arc must be above 0 and below widestAmplitude.
func arcLoss(arc float64) (loss, slope float64) {
	const step = 1e-4
	// Within widestAmplitude there are no errors.
	loss, _ = pendulum.CircularError(arc)
	more, _ := pendulum.CircularError(arc * (1 + step))
	less, _ := pendulum.CircularError(arc * (1 - step))
	return loss, (more - less) / (2 * step * arc)
}
