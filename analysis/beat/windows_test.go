package beat

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func wanderTold(r Result) bool {
	return slices.ContainsFunc(r.Reasons, func(s string) bool { return strings.HasPrefix(s, "Over windows of ") })
}

// The rate over short windows holds the truth at its stated uncertainty, for a
// steady clock with an uneven escape wheel; and no wander is told of it.
func TestShortTermOfASteadyClock(t *testing.T) {
	held, all, told := 0, 0, 0
	for seed := range uint64(60) {
		c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, rate: 35, offset: 0.006, missed: 0.02, spurious: 0.01, seed: seed,
			wheels: [][2]float64{{60, 0.5e-3}}}
		ev, _, _ := c.hear()
		r := analyse(t, Options{NominalInterval: 0.5, Arbors: []Arbor{{Index: 5, Name: "escape", BeatsPerTurn: 60}}}, ev)
		if len(r.ShortTerm) < 25 || len(r.ShortTerm) > 60 {
			t.Fatalf("%d windows", len(r.ShortTerm))
		}
		before := 0.0
		for _, w := range r.ShortTerm {
			all++
			if w.Rate.Covers(35) {
				held++
			}
			if w.TimeS <= before || w.TimeS > r.DurationS {
				t.Errorf("seed %d: window at %g s after one at %g s", seed, w.TimeS, before)
			}
			if before > 0 && math.Abs(w.TimeS-before-w.SpanS) > 0.1 {
				t.Errorf("seed %d: a window of %g s stands %g s from the one before", seed, w.SpanS, w.TimeS-before)
			}
			before = w.TimeS
		}
		if wanderTold(r) {
			told++
		}
	}
	if share := float64(held) / float64(all); share < 0.93 || share > 0.965 {
		t.Errorf("%.3f of %d windows hold the truth, want 0.95", share, all)
	}
	if told > 0 {
		t.Errorf("wander told of %d steady clocks", told)
	}
}

// A clock whose rate goes up and down by 20 s/day over twenty minutes is told to
// wander, and the windows follow it; flicker of phase alone is not called so.
func TestShortTermFollowsAWander(t *testing.T) {
	// ±20 s/day over 2400 beats: a wave of 20/86400·0.5·2400/2π seconds of phase.
	c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, missed: 0.02, seed: 3, wheels: [][2]float64{{2400, 20.0 / 86400 * 0.5 * 2400 / (2 * math.Pi)}}}
	ev, _, _ := c.hear()
	r := analyse(t, Options{NominalInterval: 0.5}, ev)
	if !wanderTold(r) {
		t.Errorf("no wander told: %q", r.Reasons)
	}
	low, high := 0.0, 0.0
	for _, w := range r.ShortTerm {
		low, high = min(low, w.Rate.V), max(high, w.Rate.V)
	}
	if math.Abs(high-20) > 5 || math.Abs(low+20) > 5 {
		t.Errorf("windows from %.1f to %.1f s/day, want -20 to 20", low, high)
	}
	for seed := range uint64(60) {
		c := clock{interval: 0.5, beats: 7200, flicker: 80e-6, seed: seed}
		ev, _, _ := c.hear()
		if r := analyse(t, Options{NominalInterval: 0.5}, ev); wanderTold(r) {
			t.Errorf("seed %d: flicker is told as wander: %q", seed, r.Reasons)
		}
	}
}

// A rate that drops by 4 s/day in the middle of an hour is told with what it went from
// and to, and a steady one is not.
func TestCourseOfAStep(t *testing.T) {
	for _, walk := range []float64{0, 40} {
		for seed := range uint64(10) {
			c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, walk: walk, seed: seed}
			ev, _, _ := c.hear()
			if walk > 0 {
				for i := range ev {
					ev[i].t += max(0, ev[i].t-1800) * 4 / 86400
				}
			}
			r := analyse(t, Options{NominalInterval: 0.5}, ev)
			if told := strings.Contains(r.Reasons[0], " That is the mean of the run: quarter by quarter it went from "); told != (walk > 0) {
				t.Errorf("walk %g, seed %d: %q", walk, seed, r.Reasons[0])
			}
		}
	}
}
