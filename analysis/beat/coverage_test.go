package beat

import (
	"math"
	"os"
	"strconv"
	"testing"
)

var watched = []Arbor{{Index: 4, Name: "third", BeatsPerTurn: 480}, {Index: 5, Name: "escape", BeatsPerTurn: 60}}

// covered counts in how many of n seeds from the first the interval of the rate
// holds the mean rate of the run, and how many arbors were called faulty.
func covered(t *testing.T, c clock, first uint64, n int) (held, accused int) {
	t.Helper()
	for seed := range uint64(n) {
		c.seed, c.rate = first+seed, 12.5
		ev, ends, _ := c.hear()
		r := analyse(t, Options{NominalInterval: c.interval, Arbors: watched}, ev)
		if r.Rate.Covers(ends) {
			held++
		}
		for _, w := range r.Wheels {
			if w.Significant {
				accused++
			}
		}
	}
	return held, accused
}

// fullRun names the variable of the environment that asks for all 500 runs of each
// kind of clock, and tells from which seed on.
const fullRun = "EVENBEAT_COVERAGE_FROM"

// The 95 % interval of the rate must hold the mean rate, from first beat to last.
// In full, of 500 runs of ten minutes and of 24 hours of each kind of clock in 92 to
// 98 %; but where the clock hardly walks, or a wheel's wave is taken for walking, the
// interval may be wider. By default a hundred runs of ten minutes and forty of 24
// hours are made, with three standard deviations of the binomial (6.5 % and 10.3 %).
// The truth is the simulation's own.
func TestCoverage(t *testing.T) {
	wheels := [][2]float64{{60, 0.5e-3}, {480, 0.5e-3}}
	short, long := clock{interval: 0.5, beats: 1200}, clock{interval: 1.5, beats: 57600}
	with := func(c clock, change func(*clock)) clock {
		change(&c)
		return c
	}
	for _, tc := range []struct {
		name  string
		c     clock
		wide  bool
		found int // arbors at fault that are found
	}{
		{"white phase, 10 min", with(short, func(c *clock) { c.jitter = 80e-6 }), false, 0},
		{"flicker phase, 10 min", with(short, func(c *clock) { c.flicker = 60e-6 }), false, 0},
		{"fractional flicker, 10 min", with(short, func(c *clock) { c.fractional = 80e-6 }), false, 0},
		{"walking rate, 10 min", with(short, func(c *clock) { c.jitter, c.walk = 80e-6, 20 }), false, 0},
		{"slowly walking rate, 10 min", with(short, func(c *clock) { c.jitter, c.walk = 80e-6, 1 }), true, 0},
		{"wheel errors, 10 min", with(short, func(c *clock) { c.jitter, c.wheels = 80e-6, wheels }), true, 1},
		{"white phase, 24 h", with(long, func(c *clock) { c.jitter = 80e-6 }), false, 0},
		{"flicker phase, 24 h", with(long, func(c *clock) { c.flicker = 60e-6 }), false, 0},
		{"fractional flicker, 24 h", with(long, func(c *clock) { c.fractional = 80e-6 }), false, 0},
		{"walking rate, 24 h", with(long, func(c *clock) { c.jitter, c.walk = 80e-6, 0.5 }), false, 0},
		{"wheel errors, 24 h", with(long, func(c *clock) { c.jitter, c.wheels = 80e-6, wheels }), false, 2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			first, n, low, up := uint64(0), 100, 89, 100
			if tc.c.beats == long.beats || testing.Short() {
				n, low, up = 40, 34, 40
			}
			if from := os.Getenv(fullRun); from != "" {
				var err error
				if first, err = strconv.ParseUint(from, 10, 64); err != nil {
					t.Fatalf("%s: %v", fullRun, err)
				}
				n, low, up = 500, 460, 490
				if tc.wide {
					up = 495
				}
			}
			held, accused := covered(t, tc.c, first, n)
			t.Logf("%s: %d of %d hold the truth, %d arbors accused", tc.name, held, n, accused)
			if held < low || held > up {
				t.Errorf("%d of %d intervals hold the truth, want %d to %d", held, n, low, up)
			}
			if tc.found == 0 && accused > 0 {
				t.Errorf("%d arbors without error were accused", accused)
			}
			if accused < tc.found*n {
				t.Errorf("%d faulty arbors found in %d runs, want %d", accused, n, tc.found*n)
			}
		})
	}
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
