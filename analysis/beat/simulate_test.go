package beat

import (
	"math"
	"math/rand/v2"
	"slices"
)

// clock is a made-up clock with a sensor on it, for tests alone. Rates are s/day,
// times seconds; flicker is the phase's standard deviation per octave, fractional
// that of the white noise whose half-order sum is flicker.
type clock struct {
	interval, rate, jitter, flicker float64
	fractional                      float64
	walk                            float64 // of the rate, s/day per root of a day
	offset                          float64 // interval after an even beat less the other
	missed, spurious                float64
	wheels                          [][2]float64 // period in beats, amplitude
	stops                           [][2]float64 // from, for: seconds
	beats                           int
	bent                            float64 // by which one tooth in thirty is late, at both pallets
	silent                          bool    // one tooth in thirty is not heard
	seed                            uint64
}

type event struct {
	t float64
	k int // true number, -1 for none; after a stop counting goes on as if none had been
	s int // stops before it
}

// hear returns the events in order, and the mean rate from first beat to last: the
// clock's own, jitter and wheels apart, and with what the wheels add.
func (c clock) hear() (ev []event, own, waved float64) {
	rng := rand.New(rand.NewPCG(c.seed, 77))
	var oct [20]float64
	for i := range oct {
		oct[i] = rng.NormFloat64()
	}
	step := c.walk * math.Sqrt(c.interval/86400)
	rate, x, dead := c.rate, 1.0, 0.0
	phases := make([]float64, len(c.wheels))
	for i := range phases {
		phases[i] = rng.Float64() * 2 * math.Pi
	}
	var flicker []float64
	if c.fractional > 0 {
		flicker = fractional(rng, c.beats, c.fractional)
	}
	first, last := 0.0, 0.0
	firstWave, lastWave := 0.0, 0.0
	stop := 0
	for k := range c.beats {
		if k == 0 {
			first = x
		}
		last = x
		if stop < len(c.stops) && x >= c.stops[stop][0] {
			dead += c.stops[stop][1]
			stop++
		}
		t := x + dead
		if k%2 == 0 {
			t -= c.offset / 4
		} else {
			t += c.offset / 4
		}
		lastWave = 0
		for i, w := range c.wheels {
			lastWave += w[1] * math.Sin(2*math.Pi*float64(k)/w[0]+phases[i])
		}
		if k == 0 {
			firstWave = lastWave
		}
		t += lastWave
		if k%60 == 22 || k%60 == 37 { // the pallets span seven teeth and a half
			t += c.bent
		}
		t += c.jitter * rng.NormFloat64()
		if c.fractional > 0 {
			t += flicker[k]
		}
		if c.flicker > 0 {
			// A sum of octaves, each held for twice as long as the last: flicker.
			for i := range oct {
				if k>>i<<i == k {
					oct[i] = rng.NormFloat64()
				}
				t += c.flicker * oct[i]
			}
		}
		if rng.Float64() >= c.missed && !(c.silent && k%60 == 22) {
			ev = append(ev, event{t, k, stop})
		}
		if rng.Float64() < c.spurious {
			at := t + rng.Float64()*c.interval
			if rng.IntN(2) == 0 {
				at = t + 0.003 + rng.Float64()*min(0.027, 0.3*c.interval)
			}
			ev = append(ev, event{at, -1, stop})
		}
		x += c.interval / (1 + rate/86400)
		rate += step * rng.NormFloat64()
	}
	slices.SortStableFunc(ev, func(a, b event) int {
		switch {
		case a.t < b.t:
			return -1
		case a.t > b.t:
			return 1
		}
		return 0
	})
	perDay := func(span float64) float64 { return 86400 * (c.interval*float64(c.beats-1)/span - 1) }
	return ev, perDay(last - first), perDay(last + lastWave - first - firstWave)
}
