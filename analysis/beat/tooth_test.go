package beat

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"
)

var escapeOnly = []Arbor{{Index: 4, Name: "third", BeatsPerTurn: 480}, {Index: 5, Name: "escape", BeatsPerTurn: 60}}

// A tooth bent by 3 ms is named in an hour of 100 µs jitter, though the acceptance window about
// where a beat is due is 2 ms wide and takes its beats for spurious; by 1 ms it is
// within the window. Tooth 12 is the one of beat 22, and meets the other pallet
// 15 beats later. The truth is the simulation's own.
func TestBentToothIsNamed(t *testing.T) {
	for _, bent := range []float64{3e-3, -3e-3, 1e-3, 2e-3} {
		for seed := range uint64(8) {
			c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, rate: 40, walk: 5, offset: 0.004, bent: bent, missed: 0.01, spurious: 0.01, seed: seed,
				wheels: [][2]float64{{60, 0.3e-3}, {480, 0.2e-3}}}
			ev, _, _ := c.hear()
			r := analyse(t, Options{NominalInterval: 0.5, Arbors: escapeOnly}, ev)
			f := r.Tooth
			if f == nil || !f.Significant || f.Kind != ToothBent {
				t.Errorf("bent by %g s, seed %d: %+v, want a bent tooth", bent, seed, f)
				continue
			}
			// The first event heard is beat 0 but where that was missed.
			first := ev[slices.IndexFunc(ev, func(e event) bool { return e.k >= 0 })].k
			if want := (22-first)/2 + 1; f.Tooth != want || !slices.Equal(f.Beats, []int{22 - first, 37 - first}) {
				t.Errorf("bent by %g s, seed %d: tooth %d, beats %v; want %d, beats %d and %d", bent, seed, f.Tooth, f.Beats, want, 22-first, 37-first)
			}
			if math.Abs(f.Late.V-bent) > 4*f.Late.U+40e-6 {
				t.Errorf("bent by %g s, seed %d: found %v", bent, seed, f.Late)
			}
			if !slices.ContainsFunc(r.Reasons, func(s string) bool {
				return strings.HasPrefix(s, "One tooth of the escape wheel is off, the others are even: tooth 12, counted from the first heard, drops ") &&
					strings.Contains(s, ", at one pallet and 15 beats later at the other.")
			}) && first == 0 {
				t.Errorf("bent by %g s, seed %d: not told: %q", bent, seed, r.Reasons)
			}
		}
	}
}

// In 100 runs with an eccentric wheel, a wandering rate, misses and knocks, yet
// with even teeth, no tooth is accused.
func TestNoToothAccused(t *testing.T) {
	for seed := range uint64(100) {
		c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, rate: -20, walk: 10 * float64(seed%3), missed: 0.03, spurious: 0.05, offset: 0.008, seed: seed}
		if seed%2 == 0 {
			c.wheels = [][2]float64{{60, 0.5e-3}, {480, 0.5e-3}}
		}
		if seed%5 == 0 {
			c.flicker = 60e-6
		}
		ev, _, _ := c.hear()
		r := analyse(t, Options{NominalInterval: 0.5, Arbors: escapeOnly}, ev)
		if r.Tooth == nil {
			t.Fatalf("seed %d: no tooth was looked at", seed)
		}
		if r.Tooth.Significant {
			t.Errorf("seed %d: tooth accused without error: %+v", seed, *r.Tooth)
		}
		if r.TrainTooth != nil || c.walk == 0 && r.Course != "" {
			t.Errorf("seed %d: a steady clock is told to be none: %+v, %q", seed, r.TrainTooth, r.Course)
		}
	}
}

// A tooth of the third wheel holds the beats back, or lets them come early, for as long
// as it is in mesh. The beats' numbers run on over it, so that the rate is as sure as
// that of a clock without it, and the headline names what it leaves out.
func TestTrainToothIsNamed(t *testing.T) {
	arbors := []Arbor{{Index: 2, Name: "centre", BeatsPerTurn: 7200}, {Index: 3, Name: "third", BeatsPerTurn: 720}, {Index: 4, Name: "escape", BeatsPerTurn: 60}}
	for _, tooth := range []struct {
		beats int
		late  float64
	}{{7, 8e-3}, {8, 8e-3}, {8, -8e-3}, {12, 4e-3}, {60, 8e-3}, {100, 20e-3}} {
		for seed := range uint64(8) {
			c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, rate: -3, offset: 0.004, missed: 0.005, spurious: 0.005, seed: seed, wheels: [][2]float64{{60, 0.2e-3}}}
			hear := func(late float64) (Result, float64) {
				ev, rate, _ := c.hear()
				for i := range ev {
					if k := ev[i].k - 300; k >= 0 && k%720 < tooth.beats {
						ev[i].t += late
					}
				}
				slices.SortStableFunc(ev, func(a, b event) int { return cmp.Compare(a.t, b.t) })
				return analyse(t, Options{NominalInterval: 0.5, Arbors: arbors}, ev), rate
			}
			without, _ := hear(0)
			r, rate := hear(tooth.late)
			f := r.TrainTooth
			if f == nil || f.Arbor != 3 || f.Turns < 9 || max(f.Beats-tooth.beats, tooth.beats-f.Beats) > 1 || math.Abs(f.Late.V-tooth.late) > 2*f.Late.U+60e-6 {
				t.Errorf("%+v, seed %d: found %+v", tooth, seed, f)
				continue
			}
			if r.Segments != 1 || !r.Rate.Covers(rate) || r.Rate.Half95() > 1.5*without.Rate.Half95() {
				t.Errorf("%+v, seed %d: %d segments, rate %v; want 1, %v as sure as %v", tooth, seed, r.Segments, r.Rate, rate, without.Rate)
			}
			if want := "beats in each turn of the third arbor, which come " + LateText(f.Late); !strings.Contains(r.Reasons[0], want) {
				t.Errorf("%+v, seed %d: %q doesn't say %q", tooth, seed, r.Reasons[0], want)
			}
		}
	}
}

// A clock that was jogged stays late: it is counted anew from there.
func TestJoggedClock(t *testing.T) {
	for _, by := range []float64{-8e-3, 8e-3, 30e-3} {
		c := clock{interval: 0.5, beats: 3600, jitter: 100e-6, rate: -3, missed: 0.005, seed: 3}
		ev, rate, _ := c.hear()
		for i := range ev {
			if ev[i].k >= 1500 {
				ev[i].t += by
			}
		}
		if r := analyse(t, Options{NominalInterval: 0.5, Arbors: escapeOnly}, ev); r.Segments != 2 || r.Late+r.Early > 0 || math.Abs(r.Rate.V-rate) > 3*r.Rate.Half95() {
			t.Errorf("by %g s: %d segments, %d late, %d early, rate %v; want 2, 0, 0, %v", by, r.Segments, r.Late, r.Early, r.Rate, rate)
		}
	}
}

func TestUnheardTooth(t *testing.T) {
	c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, missed: 0.02, silent: true, seed: 1}
	ev, _, _ := c.hear()
	r := analyse(t, Options{NominalInterval: 0.5, Arbors: escapeOnly}, ev)
	if r.Tooth == nil || r.Tooth.Kind != ToothUnheard || r.Tooth.Tooth != 12 {
		t.Fatalf("got %+v, want tooth 12 unheard", r.Tooth)
	}
	if len(r.Fold) != 59 {
		t.Errorf("%d places of the turn are told, want all but the silent one", len(r.Fold))
	}
}

// A stop loses the place on the wheel: the longest stretch alone tells the tooth.
func TestToothAfterAStop(t *testing.T) {
	c := clock{interval: 0.5, beats: 9000, jitter: 100e-6, bent: 3e-3, seed: 4, stops: [][2]float64{{400, 77.3}}}
	ev, _, _ := c.hear()
	r := analyse(t, Options{NominalInterval: 0.5, Arbors: escapeOnly}, ev)
	if r.Segments != 2 || r.Tooth == nil || r.Tooth.Kind != ToothBent || len(r.Tooth.Beats) != 2 {
		t.Fatalf("%d segments, tooth %+v", r.Segments, r.Tooth)
	}
	if !slices.ContainsFunc(r.Reasons, func(s string) bool { return strings.Contains(s, "the first heard of the longest stretch") }) {
		t.Errorf("it isn't told that the count is of the longest stretch: %q", r.Reasons)
	}
}
