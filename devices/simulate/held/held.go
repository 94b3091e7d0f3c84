// Package held counts how often stated intervals hold the truth. Only tests use it.
//
// Every count is a cell of one table: what was measured, by what kind of clock or
// instrument, over what length, in how many runs, how many held, and how wide the
// interval was beside that of the ideal estimator.
package held

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"

	"evenbeat/devices/quantity"
)

// FromEnv names the variable of the environment that asks for the full count, Full
// seeds a cell, and gives the first of them.
const FromEnv = "EVENBEAT_COVERAGE_FROM"

// Full and Short are the seeds a cell in the full count and with -short.
const (
	Full   = 500
	Normal = 100
	Short  = 30
)

// Cell is one count.
type Cell struct {
	What   string  // the figure: "rate", "time base"
	Kind   string  // the clock, instrument or noise
	Length string  // of the run, as one says it: "2 min"
	Unit   string  // of the widths: "s/day"
	Scale  float64 // Unit in one unit of the value; 0 is 1
	Ideal  float64 // 95 % half-width of the ideal estimator, in Unit; 0 where none is known
	// Low and Up bound the share in per cent that has to hold; 0 and 0 are 92 and 98.
	Low, Up float64
	// Seeds is how many seeds are counted in the normal run, 0 for Normal: fewer where a
	// run takes long. The full count takes at least as many.
	Seeds int
	// Run makes one run and returns the interval stated and the truth. No interval where
	// one is due is an error.
	Run func(seed uint64) (stated quantity.Value, truth float64, err error)
}

// Count makes the runs of a cell, prints its row of the table, and fails the test if
// too few or too many held. The bounds are the cell's own in the full count, and wider
// by what chance does to fewer seeds, three standard deviations of the binomial, in
// the others.
//
// The rows are those that .ci/coverage makes the guide's table of.
func Count(t *testing.T, c Cell) {
	t.Helper()
	first, n := seeds(t, c)
	var held int
	var widths []float64
	for seed := first; seed < first+uint64(n); seed++ {
		v, truth, err := c.Run(seed)
		if err != nil {
			t.Fatalf("%s, %s, seed %d: %v", c.Kind, c.Length, seed, err)
		}
		if v.Covers(truth) {
			held++
		}
		widths = append(widths, v.Half95())
	}
	slices.Sort(widths)
	if c.Scale == 0 {
		c.Scale = 1
	}
	width := widths[n/2] * c.Scale
	ideal, ratio := "", ""
	if c.Ideal > 0 {
		ideal, ratio = fmt.Sprintf("%.3g", c.Ideal), fmt.Sprintf("%.2f", width/c.Ideal)
	}
	share := 100 * float64(held) / float64(n)
	// One write, so that rows of tests that run beside each other don't mix.
	if _, err := fmt.Printf("| %s | %s | %s | %d | %.1f | %.3g %s | %s | %s |\n", c.What, c.Kind, c.Length, n, share, width, c.Unit, ideal, ratio); err != nil {
		t.Error(err)
	}
	if low, up := c.bounds(n); share < low || share > up {
		t.Errorf("%s, %s, %s: %d of %d intervals hold the truth, want %.1f to %.1f %%", c.What, c.Kind, c.Length, held, n, low, up)
	}
}

func seeds(t *testing.T, c Cell) (first uint64, n int) {
	t.Helper()
	if from := os.Getenv(FromEnv); from != "" {
		first, err := strconv.ParseUint(from, 10, 64)
		if err != nil {
			t.Fatalf("%s: %v", FromEnv, err)
		}
		return first, max(Full, c.Seeds)
	}
	n = Normal
	if c.Seeds > 0 {
		n = c.Seeds
	}
	if testing.Short() {
		n = min(n, Short)
	}
	if detecting {
		n = min(n, 2)
	}
	return 0, n
}

// bounds returns the least and greatest share in per cent that n seeds may hold.
func (c Cell) bounds(n int) (low, up float64) {
	low, up = c.Low, c.Up
	if low == 0 && up == 0 {
		low, up = 92, 98
	}
	if n < Full {
		// What is aimed at is 95 % where the bounds embrace it, else their middle.
		p := (low + up) / 200
		if low < 95 && up > 95 {
			p = 0.95
		}
		chance := 300 * math.Sqrt(p*(1-p)/float64(n))
		low, up = min(low, 100*p-chance), max(up, 100*p+chance)
	}
	return low, up
}
