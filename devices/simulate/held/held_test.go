package held

import (
	"math/rand/v2"
	"testing"

	"evenbeat/devices/quantity"
)

// A normal error with its own u is held in 95 %.
func TestCoverageOfANormalError(t *testing.T) {
	Count(t, Cell{What: "normal error", Kind: "as stated", Length: "one", Unit: "s", Ideal: quantity.Normal95,
		Run: func(seed uint64) (quantity.Value, float64, error) {
			rng := rand.New(rand.NewPCG(seed, 3))
			return quantity.Value{V: rng.NormFloat64(), U: 1}, 0, nil
		}})
}

// Few seeds widen the bounds by chance alone, and 500 don't.
func TestBounds(t *testing.T) {
	for _, c := range []struct {
		cell    Cell
		n       int
		low, up float64
	}{
		{Cell{}, Full, 92, 98},
		{Cell{Low: 94, Up: 96}, Full, 94, 96},
		{Cell{}, 100, 88.46, 101.54},
		{Cell{Low: 92, Up: 100}, 100, 88.46, 101.54},
		{Cell{Low: 95, Up: 100}, 100, 92.82, 102.18},
		{Cell{Low: 63, Up: 73}, 100, 54.01, 81.99},
	} {
		low, up := c.cell.bounds(c.n)
		if d := max(low-c.low, c.low-low, up-c.up, c.up-up); d > 0.005 {
			t.Errorf("%+v over %d seeds: %.2f to %.2f, want %.2f to %.2f", c.cell, c.n, low, up, c.low, c.up)
		}
	}
}
