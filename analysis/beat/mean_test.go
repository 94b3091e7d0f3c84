package beat

import (
	"fmt"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// The mean from first beat to last holds what the clock did, and that of the long run
// what it would do with its wheels' waves averaged out, whichever of them the rate is.
// The long run's allowance is for more than one clock's wheels, so it may hold more often.
// The truth is the simulation's own.
func TestCoverageOfMeans(t *testing.T) {
	wheels := [][2]float64{{60, 0.5e-3}, {480, 0.5e-3}}
	for _, kind := range []struct {
		name   string
		c      clock
		arbors []Arbor
	}{
		{"wheel errors", clock{jitter: 80e-6, wheels: wheels}, watched},
		{"escape wheel's error", clock{jitter: 80e-6, wheels: wheels[:1]}, watched},
		{"slow wheel's error", clock{jitter: 80e-6, wheels: wheels[1:]}, watched},
		{"slow wheel's error, no train", clock{jitter: 80e-6, wheels: wheels[1:]}, nil},
		{"white phase", clock{jitter: 80e-6}, watched},
	} {
		for _, interval := range []float64{0.2, 0.5, 1.5} {
			for _, minutes := range []float64{1, 2, 5, 10} {
				c := kind.c
				c.interval, c.beats = interval, int(minutes*60/interval)
				cell := held.Cell{Kind: fmt.Sprintf("%s, %g s", kind.name, interval), Length: fmt.Sprintf("%g min", minutes), Unit: "s/day", Low: 92, Up: 100, Seeds: 40}
				t.Run(cell.Kind+", "+cell.Length, func(t *testing.T) {
					t.Parallel()
					type outcome struct {
						rate       quantity.Value
						mean       Mean
						own, whole float64
					}
					known := map[uint64]outcome{} // both means are of the same runs
					result := func(seed uint64) outcome {
						if o, ok := known[seed]; ok {
							return o
						}
						c := c
						c.seed, c.rate = seed, 12.5
						ev, own, whole := c.hear()
						r := analyse(t, Options{NominalInterval: c.interval, Arbors: kind.arbors}, ev)
						known[seed] = outcome{r.Rate.Value, r.Mean, own, whole}
						return known[seed]
					}
					cell.What = "mean from first beat to last"
					cell.Run = func(seed uint64) (quantity.Value, float64, error) {
						o := result(seed)
						if o.mean.FirstToLast != nil {
							return *o.mean.FirstToLast, o.whole, nil
						}
						if kind.arbors == nil && o.mean.Of == OfSessionWithoutWaves {
							return o.rate, o.own, nil // the one wave is out
						}
						return o.rate, o.whole, nil
					}
					held.Count(t, cell)
					cell.What = "mean of the long run"
					cell.Run = func(seed uint64) (quantity.Value, float64, error) {
						o := result(seed)
						if o.mean.LongRun != nil {
							return *o.mean.LongRun, o.own, nil
						}
						return o.rate, o.own, nil
					}
					held.Count(t, cell)
				})
			}
		}
	}
}
