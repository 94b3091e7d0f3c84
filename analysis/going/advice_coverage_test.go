package going

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// TestCoverageOfOutcomes: what the last of a clock's turns was to bring, and what it
// brought, hold what it does in the simulation. Each clock's wandering is drawn as widely
// as clocks are known to wander, or is that of a steady or a restless one, and each rod's
// weight and thread's error are drawn too. Intervals lean on what is usual of clocks, so
// that all may hold for the steadiest, and what is expected on what rods and notes may be.
func TestCoverageOfOutcomes(t *testing.T) {
	const pitch = 0.8e-3
	length := quantity.Value{V: 0.9934, U: 0.0017, K: math.Sqrt(3)}
	thread, err := pendulum.NutPerTurn(pitch, length)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		kind  string
		drawn bool
		up    float64
		made
	}{
		{"any clock", true, 98, made{days: 14, every: 1, rate: 9, u: 0.2, nut: []turn{{7, -0.25}}}},
		{"any clock", true, 98, made{days: 6, every: 1, rate: 9, u: 0.2, nut: []turn{{3, -0.25}}}},
		{"any clock, turned thrice", true, 98, made{days: 30, every: 1, rate: 9, u: 0.2, nut: []turn{{7, -0.5}, {14, 0.25}, {21, 0.2}}}},
		{"any clock, turned between checks", true, 98, made{days: 15, every: 2, rate: 9, u: 0.2, nut: []turn{{7, -0.25}}}},
		{"any clock, rough checks", true, 98, made{days: 14, every: 1, rate: 9, u: 2, nut: []turn{{7, -0.25}}}},
		{"usual clock", false, 98, made{days: 14, every: 1, rate: 9, phase: 0.3, wander: 0.05, u: 0.2, nut: []turn{{7, -0.25}}}},
		{"steady", false, 100, made{days: 28, every: 1, rate: 9, phase: 0.1, wander: 0.02, u: 0.2, nut: []turn{{14, -0.25}}}},
		{"restless", false, 98, made{days: 28, every: 1, rate: 9, phase: 1, wander: 0.2, u: 0.2, nut: []turn{{14, -0.25}}}},
		{"restless", false, 98, made{days: 14, every: 1, rate: 9, phase: 1, wander: 0.2, u: 0.2, nut: []turn{{7, -0.25}}}},
		{"steel rod, heat and weather", false, 98, made{days: 28, every: 1, rate: 9, phase: 0.1, wander: 0.02, perK: -0.5, perHPa: -0.012, u: 0.2, nut: []turn{{14, -0.25}}}},
		{"run-down, turned and wound", false, 100, made{days: 45, every: 1, rate: 6, phase: 0.05, perHour: -0.02, u: 0.05, windEvery: 7, nut: []turn{{42, -0.15}}}},
	} {
		draw := func(seed uint64) made {
			m, rng := c.made, rand.New(rand.NewPCG(seed, 5))
			if c.drawn {
				m.phase, m.wander = usualPhase*math.Pow(usualSpread, rng.NormFloat64()), usualRate*math.Pow(usualSpread, rng.NormFloat64())
			}
			m.perTurn = thread.V * (0.85 + 0.15*rng.Float64() + 0.03*rng.NormFloat64())
			return m
		}
		type run struct {
			advice Advice
			truth  float64
		}
		runs := map[uint64]run{}
		last := func(seed uint64) (run, error) {
			if r, known := runs[seed]; known {
				return r, nil
			}
			m := draw(seed)
			in := m.clock(seed).in
			in.NutPitch, in.Length = pitch, length
			r, err := Analyse(in)
			if err != nil {
				return run{}, err
			}
			n := len(m.nut) - 1
			if len(r.Advice) <= n || r.Advice[n].Expected == nil || r.Advice[n].Came == nil {
				return run{}, fmt.Errorf("no outcome: %+v", r.Advice)
			}
			runs[seed] = run{r.Advice[n], m.nut[n].turns * m.perTurn}
			return runs[seed], nil
		}
		of := func(what string, up float64, figure func(Advice) *quantity.Value) held.Cell {
			return held.Cell{What: "going: " + what, Kind: c.kind, Length: fmt.Sprintf("%d days", c.days), Unit: "s/day", Low: 92, Up: up,
				Run: func(seed uint64) (quantity.Value, float64, error) {
					r, err := last(seed)
					if err != nil {
						return quantity.Value{}, 0, err
					}
					return *figure(r.advice), r.truth, nil
				}}
		}
		t.Run(fmt.Sprintf("%s, %d days", c.kind, c.days), func(t *testing.T) {
			t.Parallel()
			held.Count(t, of("a turn was to bring", 100, func(a Advice) *quantity.Value { return a.Expected }))
			held.Count(t, of("a turn brought", c.up, func(a Advice) *quantity.Value { return a.Came }))
		})
	}
}
