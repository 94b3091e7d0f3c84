package beat

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// hearLate returns the clock's events with a share of its beats 1 to 6 ms late, and
// the mean rate from first beat to last.
func (c clock) hearLate(share float64) (ev []event, rate float64) {
	ev, rate, _ = c.hear()
	rng := rand.New(rand.NewPCG(c.seed, 78))
	for i := range ev {
		if by := 0.001 + 0.005*rng.Float64(); rng.Float64() < share && ev[i].k >= 0 {
			ev[i].t += by
		}
	}
	slices.SortStableFunc(ev, func(a, b event) int { return cmp.Compare(a.t, b.t) })
	return ev, rate
}

// A beat that comes late, and nothing nearer to its place, is that beat: none of a run is
// missed and none spurious, not even the first and the last. The advice doesn't
// contradict itself.
func TestLateIsNotMissedAndSpurious(t *testing.T) {
	for seed := range uint64(60) {
		c := clock{interval: []float64{0.125, 0.36, 0.5, 1}[seed%4], beats: 600, jitter: 80e-6 * float64(seed%2), offset: 0.02 * float64(seed/2%3), seed: seed}
		ev, _ := c.hearLate(0.1)
		first, _ := c.hearLate(0)
		surely, maybe := int64(0), int64(0) // late by more than the window about their place, or by nearly as much
		for i := range ev {
			by := ev[i].t - first[i].t
			if by > 0.005*c.interval+1e-3 {
				surely++
			}
			if by > 0.003*c.interval {
				maybe++
			}
		}
		r := analyse(t, Options{NominalInterval: c.interval}, ev)
		if r.Beats != 600 || r.Missed != 0 || r.Spurious != 0 || r.Early != 0 || r.Late < surely || r.Late > maybe {
			t.Errorf("seed %d, %g s: %d beats, %d late, %d early, %d missed, %d spurious; want 600, %d to %d, 0, 0, 0",
				seed, c.interval, r.Beats, r.Late, r.Early, r.Missed, r.Spurious, surely, maybe)
		}
		if text := strings.Join(r.Warnings, " "); strings.Contains(text, "sensitive") || r.Late > 30 && !strings.Contains(text, "came late") {
			t.Errorf("seed %d: %d late, warnings %q", seed, r.Late, r.Warnings)
		}
		if far := slices.MaxFunc(r.Trace, func(a, b TracePoint) int { return cmp.Compare(a.ResidualS, b.ResidualS) }); r.Late > 0 && far.ResidualS < 0.004*c.interval {
			t.Errorf("seed %d: the trace shows no beat later than %g s", seed, far.ResidualS)
		}
	}
}

// A tooth that drops early makes beats early.
func TestEarlyBeats(t *testing.T) {
	c := clock{interval: 0.5, beats: 1200, jitter: 80e-6, bent: -4e-3, seed: 2}
	ev, _, _ := c.hear()
	r := analyse(t, Options{NominalInterval: 0.5}, ev)
	if r.Early != 40 || r.Late != 0 || r.Missed != 0 || r.Spurious != 0 {
		t.Errorf("%d early, %d late, %d missed, %d spurious; want 40, 0, 0, 0", r.Early, r.Late, r.Missed, r.Spurious)
	}
}

// Of a clock whose beats are all in their place, what lies where one was missed is an echo
// of it or a knock: no more such events lie there than beside the beats that were heard.
func TestChanceIsNotLate(t *testing.T) {
	told := 0
	for seed := range uint64(200) {
		c := clock{interval: 0.5, beats: 1200, jitter: 80e-6, missed: 0.1, spurious: 0.05, seed: seed}
		ev, _, _ := c.hear()
		beats, spurious := int64(0), int64(0)
		last := slices.MaxFunc(ev, func(a, b event) int { return cmp.Compare(a.k, b.k) }).k
		first := slices.IndexFunc(ev, func(e event) bool { return e.k >= 0 })
		for _, e := range ev {
			if e.k >= 0 {
				beats++
			} else {
				spurious++
			}
		}
		r := analyse(t, Options{NominalInterval: c.interval}, ev)
		if r.Late+r.Early > 0 {
			told++
			continue
		}
		// A knock in the window about a beat that was missed can't be told from it.
		if missed := int64(last-ev[first].k+1) - beats; r.Beats-beats > 1 || r.Beats < beats || r.Missed < missed-1 || r.Missed > missed || r.Spurious < spurious-1 || r.Spurious > spurious {
			t.Errorf("seed %d: %d beats, %d missed, %d spurious; want %d, %d, %d", seed, r.Beats, r.Missed, r.Spurious, beats, missed, spurious)
		}
	}
	// One in a hundred by the level of the test: 2 ± 1.4, three sd up.
	if told > 6 {
		t.Errorf("late beats are told in %d of 200 runs without any", told)
	}
}

// Late beats are told beside others that were missed and beside echoes and knocks.
func TestLateAmongMissedAndSpurious(t *testing.T) {
	for seed := range uint64(60) {
		c := clock{interval: 0.5, beats: 1200, jitter: 80e-6, missed: 0.1, spurious: 0.05, seed: seed}
		ev, _ := c.hearLate(0.1)
		beats := int64(0)
		for _, e := range ev {
			if e.k >= 0 {
				beats++
			}
		}
		r := analyse(t, Options{NominalInterval: c.interval}, ev)
		// Of 1080 heard some 108 are late, 86 by more than the 2 ms of the window; of 120
		// missed some 3.6 have an echo or a knock beside them, which counts as them.
		if r.Late < 60 || r.Late > 120 || r.Beats < beats-1 || r.Beats > beats+12 {
			t.Errorf("seed %d: %d beats, %d late, want %d, about 90", seed, r.Beats, r.Late, beats)
		}
	}
}

// Some late beats widen the interval of the rate, and it still holds the truth. The ideal
// estimator is the least-squares line through the N beats that are not late, whose slope
// has the variance 12σ²/N³ (any text on regression).
func TestCoverageOfTheRateWithLateBeats(t *testing.T) {
	for _, beats := range []int{600, 7200} {
		for _, share := range []float64{0, 0.02, 0.1} {
			for _, bad := range []bool{false, true} {
				c := clock{interval: 0.5, beats: beats, jitter: 80e-6, rate: 12.5}
				with := ""
				if bad {
					c.missed, c.spurious, with = 0.03, 0.02, ", 3 % missed, 2 % spurious"
				}
				n := float64(beats)
				ideal := quantity.Normal95 * c.jitter * math.Sqrt(12/(n*n*n)/(1-share-c.missed)) / c.interval * 86400
				t.Run(fmt.Sprint(beats, share, bad), func(t *testing.T) {
					t.Parallel()
					held.Count(t, held.Cell{What: "rate", Kind: fmt.Sprintf("%g %% late%s", 100*share, with), Length: quantity.SpanText(n * c.interval), Unit: "s/day", Ideal: ideal,
						Seeds: 30 + 70*600/beats,
						Run: func(seed uint64) (quantity.Value, float64, error) {
							c := c
							c.seed = seed
							ev, rate := c.hearLate(share)
							return analyse(t, Options{NominalInterval: c.interval}, ev).Rate.Value, rate, nil
						}})
				})
			}
		}
	}
}
