package analysis

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/pendulum"
	"evenbeat/sessions"
)

// A seconds clock that loses 17.5 s/day at latitude 51.5°: the pendulum is too long
// by 2·17.5/86400 of what the train asks for, 0.4029 mm of 994.1 mm, and gravity's
// 1.1 s/day, 25 µm of either length, is next to nothing of the difference.
func TestPendulumByTheBeat(t *testing.T) {
	g, err := pendulum.Gravity(51.5, 0)
	if err != nil {
		t.Fatal(err)
	}
	clock := sessions.Clock{BeatsPerHour: 3600, NutPitch: 0.8e-3}
	ses := sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true, HostSynced: true}}
	r, err := Rate(clock, ses, listening{ppm: 3000, duration: 7200, jitter: 100e-6, counts: true, seed: 1}.beats(), RateOptions{Gravity: g})
	if err != nil {
		t.Fatal(err)
	}
	p := r.Pendulum
	if p == nil {
		t.Fatal("no pendulum told")
	}
	asked := g.V / (math.Pi * math.Pi)
	if math.Abs(p.Asked.V-asked) > 1e-9 || math.Abs(p.Length.V-p.Asked.V-p.Difference.V) > 1e-9 {
		t.Errorf("asked %v, has %v, difference %v; want %g asked", p.Asked, p.Length, p.Difference, asked)
	}
	if want := 2 * 17.5 / 86400 * asked; math.Abs(p.Difference.V-want) > p.Difference.Half95()+1e-7 {
		t.Errorf("difference %v, want %g", p.Difference, want)
	}
	if rel := p.Asked.U / p.Asked.V; math.Abs(rel-g.U/g.V) > 1e-9 || p.Difference.U > 5e-6 {
		t.Errorf("uncertainties %g of the length, %g m of the difference: gravity's must cancel", rel, p.Difference.U)
	}
	if p.NutTurns == nil {
		t.Fatal("no turns told")
	}
	// A rod of a third of the bob's weight leaves 90 % of the nut's rise, and none leaves all.
	for _, share := range []float64{0.85, 0.9, 1} {
		if turns := p.Difference.V / (0.8e-3 * share); !p.NutTurns.Covers(turns) {
			t.Errorf("%.3f turns are needed where %.2f of the rise tells: %v", turns, share, p.NutTurns)
		}
	}
	if half := p.NutTurns.Half95() / p.NutTurns.V; half > 0.15 {
		t.Errorf("turns are good to %.2f only: %v", half, p.NutTurns)
	}
	if !slices.ContainsFunc(r.Reasons, func(s string) bool {
		return strings.HasPrefix(s, "The pendulum is too long by 0.4") && strings.Contains(s, "turns of the rating nut to raise the bob")
	}) {
		t.Errorf("not told: %q", r.Reasons)
	}
}

// No pendulum is told of a balance's beat, nor where nobody said how many beats an
// hour there should be; without a place the lengths say so.
func TestPendulumOnlyWhereThereIsOne(t *testing.T) {
	ses := sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}
	heard := func(clock sessions.Clock) (told bool, reasons string) {
		r, err := Rate(clock, ses, listening{duration: 900, jitter: 100e-6, counts: true, seed: 1}.beats(), RateOptions{})
		if err != nil {
			t.Fatal(err)
		}
		return r.Pendulum != nil, strings.Join(r.Reasons, "\n")
	}
	if told, _ := heard(sessions.Clock{}); told {
		t.Error("a pendulum is told of a clock of which nothing is known")
	}
	if told, _ := heard(sessions.Clock{BeatsPerHour: 18000}); told {
		t.Error("a pendulum is told of a balance")
	}
	told, reasons := heard(sessions.Clock{BeatsPerHour: 3600})
	if !told || !strings.Contains(reasons, "Where the clock stands is not given") || strings.Contains(reasons, "rating nut") {
		t.Errorf("told %v: %s", told, reasons)
	}
}

// How far to turn the nut is for days to tell. Whether they are recorded already or are still
// to be waited for, the bob is held.
func TestNutWaitsForDays(t *testing.T) {
	clock := sessions.Clock{BeatsPerHour: 3600, NutPitch: 0.8e-3}
	ses := sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true, HostSynced: true}}
	begun := time.Date(2026, 3, 9, 9, 0, 0, 0, time.UTC)
	at := func(days ...float64) (all []sessions.Check) {
		for _, d := range days {
			all = append(all, sessions.Check{At: begun.Add(time.Duration(d * 24 * float64(time.Hour)))})
		}
		return all
	}
	const wait, look = "let the clock go for a day or two", "with `evenbeat going`"
	for _, x := range []struct {
		name   string
		checks []sessions.Check
		want   string
	}{
		{"none", nil, wait}, {"one", at(-1), wait}, {"hours", at(-0.9, -0.2), wait}, {"days", at(-3, -2, -0.1), look},
		{"long ago", at(-400, -380, -8), wait}, {"after it", at(0.1, 2), look},
	} {
		r, err := Rate(clock, ses, listening{ppm: 3000, duration: 7200, jitter: 100e-6, counts: true, seed: 1}.beats(), RateOptions{DaysChecked: DaysChecked(x.checks, begun)})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(r.Next, func(s string) bool { return strings.Contains(s, "Hold the bob") })
		if i < 0 || !strings.Contains(r.Next[i], x.want) || strings.Contains(r.Next[i], wait) != (x.want == wait) {
			t.Errorf("checks of %s: %q", x.name, r.Next)
		}
	}
}
