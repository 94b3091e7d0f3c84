package beat

import (
	"fmt"
	"math"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

var watched = []Arbor{{Index: 4, Name: "third", BeatsPerTurn: 480}, {Index: 5, Name: "escape", BeatsPerTurn: 60}}

// notAsked as the number found at fault says that it isn't counted.
const notAsked = -1

// rateCell counts how often the interval of the rate holds the truth: the mean rate from
// first beat to last, without the wheels' waves, or with them where waved is true.
// Of the watched arbors as many as found are at fault, and where that is 0 none may be
// called so. The truth is the simulation's own.
func rateCell(t *testing.T, kind, length string, c clock, found int, waved bool, cell held.Cell) {
	t.Run(kind+", "+length, func(t *testing.T) {
		t.Parallel()
		runs, accused := 0, 0
		cell.What, cell.Kind, cell.Length, cell.Unit = "rate", fmt.Sprintf("%s, %g s", kind, c.interval), length, "s/day"
		if c.jitter > 0 {
			// Least squares on independent scatter: the variance of the slope is
			// 12σ²/n³ for n beats (Draper and Smith, Applied Regression Analysis, from memory).
			cell.Ideal = quantity.Normal95 * 86400 / c.interval * c.jitter * math.Sqrt(12/math.Pow(float64(c.beats), 3))
		}
		cell.Run = func(seed uint64) (quantity.Value, float64, error) {
			c := c
			c.seed, c.rate = seed, 12.5
			ev, truth, whole := c.hear()
			if waved {
				truth = whole
			}
			r := analyse(t, Options{NominalInterval: c.interval, Arbors: watched}, ev)
			runs++
			for _, w := range r.Wheels {
				if w.Significant {
					accused++
				}
			}
			return r.Rate.Value, truth, nil
		}
		held.Count(t, cell)
		if found == 0 && accused > 0 {
			t.Errorf("%d arbors without error were accused", accused)
		}
		if accused < found*runs {
			t.Errorf("%d faulty arbors found in %d runs, want %d", accused, runs, found*runs)
		}
	})
}

// The 95 % interval of the rate must hold the mean rate, from first beat to last, in 92
// to 98 % of all runs; but where the beats are few, the clock hardly walks,
// or a wheel's wave is taken for walking, the interval may be wider.
func TestCoverage(t *testing.T) {
	wheels := [][2]float64{{60, 0.5e-3}, {480, 0.5e-3}}
	third := wheels[1:]
	with := func(c clock, interval, minutes float64) clock {
		c.interval, c.beats = interval, int(minutes*60/interval)
		return c
	}
	white, fractional := clock{jitter: 80e-6}, clock{fractional: 80e-6}
	flicker, walking := clock{flicker: 60e-6}, clock{jitter: 80e-6, walk: 20}
	for _, minutes := range []float64{1, 2, 5, 10} {
		length := fmt.Sprintf("%g min", minutes)
		for _, interval := range []float64{0.2, 0.5, 1.5} {
			// Fractional flicker is the one kind whose few beats hold a little less.
			few := held.Cell{}
			if minutes < 10 || interval != 0.5 {
				few.Low, few.Up = 90, 98
			}
			rateCell(t, "white phase", length, with(white, interval, minutes), 0, false, held.Cell{})
			rateCell(t, "flicker phase", length, with(flicker, interval, minutes), 0, false, held.Cell{})
			rateCell(t, "fractional flicker", length, with(fractional, interval, minutes), 0, false, few)
			rateCell(t, "walking rate", length, with(walking, interval, minutes), 0, false, held.Cell{})
		}
	}
	slowly := clock{jitter: 80e-6, walk: 1}
	rateCell(t, "slowly walking rate", "10 min", with(slowly, 0.5, 10), 0, false, held.Cell{Low: 92, Up: 99})
	both := clock{fractional: 40e-6, jitter: 40e-6, walk: 20}
	rateCell(t, "walking rate and flicker", "10 min", with(both, 0.5, 10), 0, false, held.Cell{Low: 92, Up: 99})
	faulty, slow := clock{jitter: 80e-6, wheels: wheels}, clock{jitter: 80e-6, wheels: third}
	rateCell(t, "wheel errors", "10 min", with(faulty, 0.5, 10), 1, false, held.Cell{})
	// The third arbor's turn is four minutes. What it does in less is part of the run.
	for _, minutes := range []float64{1, 2, 3} {
		rateCell(t, "slow wheel's error", fmt.Sprintf("%g min", minutes), with(slow, 0.5, minutes), notAsked, true, held.Cell{Low: 92, Up: 100})
	}
	for _, minutes := range []float64{4, 5} {
		rateCell(t, "slow wheel's error", fmt.Sprintf("%g min", minutes), with(slow, 0.5, minutes), notAsked, false, held.Cell{})
	}
	day := func(c clock) clock { return with(c, 1.5, 24*60) }
	few := held.Cell{Seeds: 40}
	rateCell(t, "white phase", "24 h", day(white), 0, false, few)
	rateCell(t, "flicker phase", "24 h", day(flicker), 0, false, few)
	rateCell(t, "fractional flicker", "24 h", day(fractional), 0, false, few)
	walking.walk = 0.5
	rateCell(t, "walking rate", "24 h", day(walking), 0, false, few)
	rateCell(t, "wheel errors", "24 h", day(faulty), 2, false, few)
}

// A half-millisecond error of one arbor is found and named in an hour with 100 µs
// of jitter, and in 100 runs without error no arbor is accused. The truth is the
// simulation's own.
func TestWhichWheel(t *testing.T) {
	train := []Arbor{{Index: 2, Name: "centre", BeatsPerTurn: 3600}, {Index: 3, Name: "third", BeatsPerTurn: 480}, {Index: 4, Name: "fourth", BeatsPerTurn: 126.3}, {Index: 5, Name: "escape", BeatsPerTurn: 60}} // 126.3: a turn need not be whole beats
	for _, bad := range []int{1, 2, 3} {
		for seed := range uint64(10) {
			c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, rate: 80, offset: 0.006, missed: 0.03, spurious: 0.01, seed: seed,
				wheels: [][2]float64{{train[bad].BeatsPerTurn, 0.5e-3}}}
			ev, _, _ := c.hear()
			for _, w := range analyse(t, Options{NominalInterval: 0.5, Arbors: train}, ev).Wheels {
				faulty := w.Arbor == train[bad].Index
				if w.Significant != faulty {
					t.Errorf("%s arbor faulty, seed %d: %s arbor significant: %v (%v)", train[bad].Name, seed, w.Name, w.Significant, w.Amplitude)
				}
				if faulty && math.Abs(w.Amplitude.V-0.5e-3) > 5*w.Amplitude.U+3e-6 {
					t.Errorf("%s arbor, seed %d: amplitude %v, want 0.0005", w.Name, seed, w.Amplitude)
				}
			}
		}
	}
	told := 0
	for seed := range uint64(100) {
		c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, walk: 5 * float64(seed%3), rate: -200, missed: 0.02, seed: seed}
		ev, _, _ := c.hear()
		for _, w := range analyse(t, Options{NominalInterval: 0.5, Arbors: train}, ev).Wheels {
			told++
			if w.Significant {
				t.Errorf("seed %d: %s arbor accused without error: %v", seed, w.Name, w.Amplitude)
			}
		}
	}
	if told < 300 {
		t.Errorf("%d arbors were looked at in 100 runs, want three each", told)
	}
}

// A rate that wanders makes waves as slow as a wheel of few turns, and no wheel is
// accused of them; a bad wheel of four turns is still found in a clock whose rate walks
// as they do.
func TestWanderingAccusesNoWheel(t *testing.T) {
	bad := [][2]float64{{480, 0.5e-3}}
	for _, c := range []clock{
		{interval: 0.2, beats: 1500, jitter: 80e-6, walk: 20},
		{interval: 0.2, beats: 1500, jitter: 80e-6, walk: 200},
		{interval: 0.2, beats: 2400, jitter: 80e-6, walk: 20},
		{interval: 0.2, beats: 1500, fractional: 80e-6},
		{interval: 0.5, beats: 1600, jitter: 80e-6, walk: 20},
		{interval: 0.5, beats: 2400, jitter: 80e-6, walk: 50},
		{interval: 0.5, beats: 1920, jitter: 80e-6, walk: 5, wheels: bad},
	} {
		const n = 60
		accused := 0
		for seed := range uint64(n) {
			c.seed, c.rate = 7300000+seed, 12.5
			ev, _, _ := c.hear()
			for _, w := range analyse(t, Options{NominalInterval: c.interval, Arbors: watched}, ev).Wheels {
				if w.Significant {
					accused++
				}
			}
		}
		t.Logf("%+v: %d of %d", c, accused, n)
		if c.wheels == nil && accused > 0 {
			t.Errorf("%+v: %d innocent wheels accused in %d runs", c, accused, n)
		}
		if c.wheels != nil && accused < n*4/5 {
			t.Errorf("%+v: the bad wheel was found in %d of %d runs", c, accused, n)
		}
	}
}
