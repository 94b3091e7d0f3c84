package beat

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// Without a train, periods of 60 and 450 beats are found in an hour of 100 µs
// jitter, with the teeth that explain them: 30 × 2 beats are one turn of the escape
// wheel, and 450 are 7.5 turns of it, as 60 teeth on 8 leaves make. The truth is
// the simulation's own.
func TestPeriodsWithoutTrain(t *testing.T) {
	held := 0
	for seed := range uint64(20) {
		c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, rate: 60, offset: 0.006, missed: 0.03, spurious: 0.01, walk: 3, seed: seed,
			wheels: [][2]float64{{60, 0.5e-3}, {450, 0.3e-3}}}
		ev, _, _ := c.hear()
		r := analyse(t, Options{NominalInterval: 0.5}, ev)
		if len(r.Periods) != 2 {
			t.Fatalf("seed %d: %d periods, want two: %+v", seed, len(r.Periods), r.Periods)
		}
		for i, want := range []struct {
			beats, amp float64
			text       string
		}{
			{60, 0.5e-3, "an escape wheel of 30 teeth"},
			{450, 0.3e-3, "the arbor whose wheel of 60 teeth drives a pinion of 8 leaves on an escape wheel of 30"},
		} {
			p := r.Periods[i]
			if math.Abs(p.Beats.V-want.beats) > 4*p.Beats.U || math.Abs(p.Amplitude.V-want.amp) > 5*p.Amplitude.U+0.06*want.amp {
				t.Errorf("seed %d: %v beats, %v s; want %g and %g", seed, p.Beats, p.Amplitude, want.beats, want.amp)
			}
			if p.Beats.Covers(want.beats) {
				held++
			}
			if !slices.ContainsFunc(p.Explains, func(s string) bool { return strings.HasPrefix(s, want.text) }) {
				t.Errorf("seed %d: %g beats explained by %q", seed, want.beats, p.Explains)
			}
		}
	}
	if held < 30 { // of 40 at about 95 %
		t.Errorf("%d of 40 intervals hold the period", held)
	}
}

// The overtones of a bent tooth are not periods of their own.
func TestOvertonesAreNotTold(t *testing.T) {
	c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, bent: 1.5e-3, seed: 2}
	ev, _, _ := c.hear()
	r := analyse(t, Options{NominalInterval: 0.5}, ev)
	if len(r.Periods) != 1 || math.Abs(r.Periods[0].Beats.V-60) > 0.2 {
		t.Errorf("got %+v, want 60 beats alone", r.Periods)
	}
}

// In 100 runs of white phase, flicker and walking rate no period is told.
func TestNoPeriodOfNoise(t *testing.T) {
	for seed := range uint64(100) {
		c := clock{interval: 0.5, beats: 2400 + 600*int(seed%9), jitter: 100e-6, missed: 0.02, seed: seed}
		switch seed % 3 {
		case 1:
			c.flicker = 80e-6
		case 2:
			c.walk = 40
		}
		ev, _, _ := c.hear()
		if r := analyse(t, Options{NominalInterval: 0.5}, ev); len(r.Periods) > 0 {
			t.Errorf("seed %d: periods told of noise: %+v", seed, r.Periods)
		}
	}
}
