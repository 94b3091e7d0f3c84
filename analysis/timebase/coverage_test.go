package timebase

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// port is a made-up way of a sensor's bytes to the host: when they arrive, for an event
// at a host's time.
type port func(rng *rand.Rand) func(at float64) (arrival float64)

// late is a port whose messages come late by what delay draws.
func late(delay func(rng *rand.Rand, at float64) float64) port {
	return func(rng *rand.Rand) func(float64) float64 {
		return func(at float64) float64 { return at + delay(rng, at) }
	}
}

// even comes least to least + most seconds late.
func even(least, most float64) port {
	return late(func(rng *rand.Rand, _ float64) float64 { return least + most*rng.Float64() })
}

// quiet is a host with little to do: some tens of microseconds.
var quiet = late(func(rng *rand.Rand, _ float64) float64 { return 300e-6 + 40e-6*rng.ExpFloat64() })

// polled hands bytes over each step of the host's time, and the host takes them a little
// later, now and then much later.
func polled(step, busy float64) port {
	return func(rng *rand.Rand) func(float64) float64 {
		phase := rng.Float64()
		return func(at float64) float64 {
			at = (math.Ceil(at/step-phase) + phase) * step
			if at += 10e-6 * rng.ExpFloat64(); rng.Float64() < busy {
				at += 5e-3 * rng.Float64()
			}
			return at
		}
	}
}

// bursts is a quiet host that is busy for two seconds or so, each twenty or so.
func bursts(rng *rand.Rand) func(float64) float64 {
	from, to := 20*rng.ExpFloat64(), 0.0
	to = from + 2*rng.ExpFloat64()
	return func(at float64) float64 {
		for at > to {
			from = to + 20*rng.ExpFloat64()
			to = from + 2*rng.ExpFloat64()
		}
		d := 300e-6 + 40e-6*rng.ExpFloat64()
		if at > from {
			d += 10e-3 * rng.Float64()
		}
		return at + d
	}
}

// grows adds 3 ms to a port's delay from half way on.
func grows(p port, lengthS float64) port {
	return func(rng *rand.Rand) func(float64) float64 {
		from := p(rng)
		return func(at float64) float64 {
			if at > lengthS/2 {
				return from(at) + 3e-3
			}
			return from(at)
		}
	}
}

// timed is a sensor's run: beats of about interval seconds, whose rate is off by up to
// 200 ppm by the seed and that scatter by jitter seconds.
type timed struct {
	interval, lengthS, jitter, ppm float64
	by                             port
}

func (c timed) fit(seed uint64) *Line {
	rng := rand.New(rand.NewPCG(seed, 11))
	arrive := c.by(rng)
	interval := c.interval * (1 + 2e-4*(2*rng.Float64()-1))
	start, counter, last := c.interval*rng.Float64(), Counter{Rate: 1e6, Bits: 32}, 0.0
	f := &Line{}
	for at := start; at < c.lengthS; at += interval {
		beat := at + c.jitter*rng.NormFloat64()
		last = max(last, arrive(beat))
		mono := int64(last * 1e9)
		ticks, j := counter.Next(uint64((7+beat)*(1+c.ppm*1e-6)*1e6), mono, mono, false)
		f.Add(float64(ticks)*1e-6, mono, mono, j != Joined)
	}
	return f
}

// length is how long a run lasts.
type length struct {
	s     float64
	words string
}

var lengths = []length{{30, "30 s"}, {60, "1 min"}, {120, "2 min"}, {600, "10 min"}, {3600, "1 h"}}

// cell counts the interval of the resonator's offset by the fit alone. The truth is the
// simulation's own.
func (c timed) cell(kind string, l length) held.Cell {
	c.lengthS = l.s
	seeds := held.Normal
	if l.s > 1000 {
		seeds = 40
	}
	return held.Cell{What: "time base", Kind: fmt.Sprintf("%s, %+g ppm", kind, c.ppm), Length: l.words, Unit: "ppm", Seeds: seeds,
		Run: func(seed uint64) (quantity.Value, float64, error) {
			v, ok := c.fit(seed).Offset()
			if !ok {
				return v, 0, errors.New("no offset")
			}
			return v, c.ppm, nil
		}}
}

// Delays that scatter, each by itself or in bursts, from a resonator that is right and
// from two that are not.
func TestCoverageOfScatter(t *testing.T) {
	t.Parallel()
	for _, ppm := range []float64{0, 3000, -3000} {
		for _, k := range []struct {
			name string
			c    timed
		}{
			{"quiet port", timed{by: quiet, jitter: 1e-4}},
			{"quiet port, even beats", timed{by: quiet}},
			{"0 to 1 ms late", timed{by: even(0, 1e-3), jitter: 1e-4}},
			{"0 to 16 ms late", timed{by: even(0, 16e-3), jitter: 1e-4}},
			{"bursts", timed{by: bursts, jitter: 1e-4}},
		} {
			for _, l := range lengths {
				c := k.c
				c.interval, c.ppm = 0.5, ppm
				t.Run(fmt.Sprintf("%s, %s, %g ppm", k.name, l.words, ppm), func(t *testing.T) {
					t.Parallel()
					held.Count(t, c.cell(k.name, l))
				})
			}
		}
	}
}

// A delay that grows by 3 ms half way. The count is near 94 % throughout, and one below
// 92 is chance.
func TestCoverageOfAGrownDelay(t *testing.T) {
	t.Parallel()
	for _, k := range []struct {
		name string
		by   port
	}{{"3 ms more half way, quiet port", quiet}, {"3 ms more half way, 0 to 1 ms late", even(0, 1e-3)}} {
		for _, l := range lengths {
			for _, ppm := range []float64{0, -3000} {
				t.Run(fmt.Sprintf("%s, %s, %g ppm", k.name, l.words, ppm), func(t *testing.T) {
					t.Parallel()
					c := timed{interval: 0.5, jitter: 1e-4, ppm: ppm, by: grows(k.by, l.s)}.cell(k.name, l)
					c.Low, c.Up = 91, 98
					held.Count(t, c)
				})
			}
		}
	}
}

// Bytes that are handed over at even steps. How the delay glides then follows from the
// clock's rate and from no chance, so the interval has to hold for each rate; over rates
// drawn at random it holds more often than it says. It is as narrow as the stamps allow:
// never wider than by a step from one end to the other where the beats wander over the
// steps, and far narrower where they do so quickly. Beats of 0.8 s are 50 steps of 16 ms.
func TestCoverageOfPolling(t *testing.T) {
	t.Parallel()
	for _, k := range []struct {
		name string
		c    timed
		step float64
	}{
		{"each 1 ms", timed{by: polled(1e-3, 0), interval: 0.5, jitter: 1e-4}, 1e-3},
		{"each 1 ms, even beats", timed{by: polled(1e-3, 0), interval: 0.5}, 1e-3},
		{"each 16 ms", timed{by: polled(16e-3, 0), interval: 0.5, jitter: 1e-4}, 16e-3},
		{"each 16 ms, even beats", timed{by: polled(16e-3, 0), interval: 0.5}, 16e-3},
		{"each 16 ms, busy", timed{by: polled(16e-3, 0.03), interval: 0.5, jitter: 1e-4}, 16e-3},
		{"each 16 ms, very busy", timed{by: polled(16e-3, 0.15), interval: 0.5, jitter: 1e-4}, 16e-3},
		{"each 16 ms, 0.8 s", timed{by: polled(16e-3, 0), interval: 0.8, jitter: 1e-4}, 16e-3},
		{"each 16 ms, even beats of 0.8 s", timed{by: polled(16e-3, 0), interval: 0.8}, 16e-3},
		{"each 10 ms", timed{by: polled(10e-3, 0), interval: 0.5, jitter: 1e-4}, 10e-3},
	} {
		for _, l := range lengths {
			for _, ppm := range []float64{0, 3000} {
				t.Run(fmt.Sprintf("%s, %s, %g ppm", k.name, l.words, ppm), func(t *testing.T) {
					t.Parallel()
					c := k.c
					c.ppm = ppm
					cell := c.cell(k.name, l)
					cell.Low, cell.Up = 95, 100
					cell.Ideal = 0.95 * k.step / l.s * 1e6 // one step's creep, as a rectangle
					held.Count(t, cell)
				})
			}
		}
	}
}

// Short runs, from ten beats on. Eight windows or fewer tell their scatter poorly: down
// to 92 % where least delays are exponential, more than 95 % where Student's factor for
// two or three degrees of freedom is long.
func TestCoverageOfShortRuns(t *testing.T) {
	t.Parallel()
	for _, k := range []struct {
		name string
		by   port
	}{{"quiet port", quiet}, {"0 to 16 ms late", even(0, 16e-3)}, {"each 16 ms", polled(16e-3, 0)}} {
		for _, l := range []length{{6, "6 s"}, {10, "10 s"}, {15, "15 s"}, {25, "25 s"}} {
			t.Run(k.name+", "+l.words, func(t *testing.T) {
				t.Parallel()
				c := timed{interval: 0.5, jitter: 1e-4, ppm: -2000, by: k.by}.cell(k.name, l)
				c.Low, c.Up = 90, 100
				held.Count(t, c)
			})
		}
	}
}
