package simulate

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices/quantity"
)

func newScenario(t *testing.T, seed uint64, days int) Scenario {
	t.Helper()
	s, err := NewScenario(seed, days)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestBarrelBySpiral(t *testing.T) {
	// Published barrel, mysterieuse-uhren.de 5.6, of 20 mm, arbor 7, strip 0.25, its
	// sums worked again: half area 137.837 mm², L* 551.35 mm, 5.933 turns at best;
	// with 540 mm a fill of 0.48971 and 5.9314 turns.
	b := Barrel{Bore: 20e-3, Arbor: 7e-3, Strip: 0.25e-3, Length: 540e-3}
	for _, c := range []struct{ got, want, half float64 }{
		{b.IdealLength() * 1e3, 551.35, 5e-3}, {b.Fill(), 0.48971, 5e-6}, {b.Turns(), 5.9314, 5e-5},
		{Barrel{Bore: 20e-3, Arbor: 7e-3, Strip: 0.25e-3, Length: b.IdealLength()}.Turns(), 5.933, 5e-4},
		{Barrel{Bore: 20e-3, Arbor: 7e-3, Strip: 0.25e-3, Length: 2}.Turns(), 0, 0},
	} {
		if math.Abs(c.got-c.want) > c.half {
			t.Errorf("got %g, want %g", c.got, c.want)
		}
	}
	// And by laying the strip coil on coil, each a circle at its middle radius, in
	// the scenario's barrel: areas and circles agree to the part of a coil at the end.
	s := newScenario(t, 1, 7).Barrel
	wound := coils(s.Length, s.Arbor/2+s.Strip/2, s.Strip)
	down := coils(s.Length, s.Bore/2-s.Strip/2, -s.Strip)
	if got := s.Turns(); math.Abs(got-(wound-down)) > 0.01 {
		t.Errorf("turns %.4f, coil by coil %.4f", got, wound-down)
	}
}

// coils counts the coils of a strip laid from a first middle radius on.
func coils(length, radius, step float64) float64 {
	for n := 0.0; ; n++ {
		round := 2 * math.Pi * radius
		if length <= round {
			return n + length/round
		}
		length -= round
		radius += step
	}
}

func TestScenarioSums(t *testing.T) {
	for seed := range uint64(200) {
		s := newScenario(t, seed, 7)
		if f := s.Barrel.Fill(); f < 0.44 || f > 0.52 {
			t.Errorf("seed %d: fill %g, should sit well inside 0.40 to 0.60", seed, f)
		}
		if d := s.Barrel.Turns() * s.BarrelTurn / day; d < 8 {
			t.Errorf("seed %d: goes %g days, an eight-day clock needs 8", seed, d)
		}
		if s.Barrel.Height >= s.Barrel.Inside {
			t.Errorf("seed %d: strip %g m high in a barrel of %g", seed, s.Barrel.Height, s.Barrel.Inside)
		}
	}
	// The train: barrel to hour arbor, and hour arbor to escape wheel.
	s := newScenario(t, 1, 7)
	pairs := strings.Split(s.Train, ",")
	ratio := 1.0
	for i, p := range pairs[:len(pairs)-1] {
		var wheel, pinion float64
		if _, err := fmt.Sscanf(p, "%g/%g", &wheel, &pinion); err != nil {
			t.Fatal(err)
		}
		ratio *= wheel / pinion
		if i+2 == s.HourArbor && ratio*3600 != s.BarrelTurn {
			t.Errorf("barrel turns in %g s by the train, in %g by the scenario", ratio*3600, s.BarrelTurn)
		}
	}
	if beats := ratio / (s.BarrelTurn / 3600) * 30 * 2; beats != s.Clock.BeatsPerHour {
		t.Errorf("train beats %g an hour, the clock %g", beats, s.Clock.BeatsPerHour)
	}
}

func TestScenarioClockNeverStands(t *testing.T) {
	for seed := range uint64(20) {
		s := newScenario(t, seed, 14)
		c, err := NewClock(s.Clock)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for at := 0.0; at < s.Clock.Span; at += 600 {
			if a := c.Amplitude(at); a < Degrees(1.5) || a > Degrees(2.6) {
				t.Fatalf("seed %d at %g s: semi-amplitude %g rad", seed, at, a)
			}
			if r := c.RateAt(at); math.Abs(r) > 40 {
				t.Fatalf("seed %d at %g s: rate %g s/day", seed, at, r)
			}
		}
	}
	for _, days := range []int{0, -1, 367} {
		if _, err := NewScenario(1, days); err == nil {
			t.Errorf("%d days: no error", days)
		}
	}
}

func TestScenarioPresses(t *testing.T) {
	s := newScenario(t, 3, 7)
	got := map[string][]float64{}
	for p := range s.Presses(true) {
		if p.Fine != (p.Dimension == "strip") {
			t.Errorf("%s: fine is %v", p.Dimension, p.Fine)
		}
		got[p.Dimension] = append(got[p.Dimension], p.True)
	}
	// Angles and places are spread evenly, so that the mean of each is the true mean.
	for name, c := range map[string]struct {
		n    int
		mean float64
	}{
		"zero": {1, 0}, "bore": {3, s.Barrel.Bore}, "depth": {1, s.Barrel.Inside}, "arbor": {2, s.Barrel.Arbor},
		"strip": {5, s.Barrel.Strip}, "height": {3, s.Barrel.Height},
	} {
		sum := 0.0
		for _, x := range got[name] {
			sum += x
		}
		if len(got[name]) != c.n || math.Abs(sum/float64(c.n)-c.mean) > 1e-12 {
			t.Errorf("%s: %v, want %d with mean %g", name, got[name], c.n, c.mean)
		}
	}
	if slices.Max(got["bore"]) == slices.Min(got["bore"]) {
		t.Error("the bore is round: out-of-round doesn't show")
	}
	l, err := quantity.ParseLength(s.TypedLength(), quantity.NoUnit)
	if err != nil || math.Abs(l.Metres-s.Barrel.Length) > 2.5e-3+1e-12 {
		t.Errorf("typed length %q: %v, %v, truth %g", s.TypedLength(), l.Metres, err, s.Barrel.Length)
	}
}
