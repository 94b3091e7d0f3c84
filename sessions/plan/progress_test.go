package plan

import (
	"math/rand/v2"
	"strings"
	"testing"

	"evenbeat/sessions"
)

func barrel() Plan {
	return Plan{Name: "barrel", Title: "a barrel", Part: "barrel", Steps: []Step{
		{Dimension: "bore", Ask: "Measure the bore.", Count: 3, Spread: "60°", Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 0.1e-3},
		{Dimension: "strip", Ask: "Measure the strip.", Count: 2, Kind: sessions.Outside, Min: 0.06e-3, Max: 4e-3, Vary: 0},
		{Dimension: "coils", Ask: "Count the coils.", Count: 1, Kind: sessions.Count, Min: 1, Max: 60},
	}}
}

// caliper is a reading of v metres by a caliper as DIN 862 has it: 0.02 mm, and as
// much again inside.
func caliper(p *Progress, v float64) sessions.Reading {
	a, _ := p.Next()
	return sessions.Reading{Value: v, Step: 1e-5, Limit: map[sessions.Kind]float64{sessions.Outside: 0.02e-3, sessions.Inside: 0.04e-3}[a.Step.Kind]}
}

// bench drives a plan as the recorder does and writes down what it hears.
type bench struct {
	*Progress
	id int64
}

func (b *bench) do(step string, v float64) string {
	switch step {
	case "undo":
		b.Undo()
	case "skip":
		b.Skip()
	case "repeat":
		b.Repeat()
	case "jump":
		b.Jump("st")
	default:
		got := b.Judge(caliper(b.Progress, v))
		switch {
		case got.Done && !got.Undo:
			return "not asked for"
		case got.Undo:
			b.Undo()
		default:
			b.id++
			b.Keep(got, b.id)
			next, _ := b.Next()
			return strings.TrimSpace(got.Dimension+" "+string(got.State)) + " → " + next.String()
		}
	}
	next, _ := b.Next()
	return "→ " + next.String()
}

// Visits to the bench, reading by reading. Values in mm; "undo", "skip" and
// "repeat" are keys.
func TestVisits(t *testing.T) {
	type step struct {
		in   string
		mm   float64
		want string
	}
	for _, v := range []struct {
		name  string
		steps []step
	}{
		{"the plan from end to end", []step{
			{"", 0.01, "zero kept → bore 1 of 3"}, {"", -0.2, "zero kept → bore 1 of 3"},
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 63.55, "bore kept → bore 3 of 3"}, {"", 63.45, "bore kept → strip 1 of 2"},
			{"", 0.56, "strip kept → strip 2 of 2"}, {"", 0.61, "strip kept → coils"},
			{"", 12500, "coils kept → "}, {"", 63.5, "not asked for"}}},
		{"no zero reading", []step{{"", 63.5, "bore kept → bore 2 of 3"}}},
		{"not near enough to zero for one", []step{{"", 0.21, "bore doubtful → bore 1 of 3"}}},
		{"jaws closed means undo, once something is read", []step{
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 0.05, "→ bore 1 of 3"}, {"", 0.00, "zero kept → bore 1 of 3"},
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 0.06, "bore doubtful → bore 2 of 3"}, {"", -0.05, "→ bore 2 of 3"}}},
		{"undo across steps, and after the last", []step{
			{"skip", 0, "→ strip 1 of 2"}, {"", 0.56, "strip kept → strip 2 of 2"}, {"skip", 0, "→ coils"},
			{"", 12000, "coils kept → "}, {"undo", 0, "→ coils"}, {"undo", 0, "→ strip 2 of 2"}, {"undo", 0, "→ strip 1 of 2"},
			{"undo", 0, "→ bore 1 of 3"}, {"undo", 0, "→ bore 1 of 3"}}},
		{"away from its fellows, and right the second time", []step{
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 63.7, "bore doubtful → bore 2 of 3"}, {"", 63.52, "bore kept → bore 3 of 3"}}},
		{"away from its fellows, and so again", []step{
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 63.7, "bore doubtful → bore 2 of 3"}, {"", 63.79, "bore kept → bore 3 of 3"},
			{"", 63.6, "bore kept → strip 1 of 2"}}},
		{"three that agree with nothing", []step{
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 63.7, "bore doubtful → bore 2 of 3"}, {"", 63.9, "bore doubtful → bore 2 of 3"},
			{"", 64.1, "bore doubtful → bore 2 of 3"}, {"", 63.7, "bore kept → bore 3 of 3"}}},
		{"a doubt doesn't settle the place after it", []step{
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 63.7, "bore doubtful → bore 2 of 3"}, {"", 63.5, "bore kept → bore 3 of 3"},
			{"", 63.7, "bore doubtful → bore 3 of 3"}}},
		{"beyond the plausible range, and so again", []step{
			{"", 300, "bore doubtful → bore 1 of 3"}, {"", 300.05, "bore doubtful → bore 1 of 3"}, {"", 63.5, "bore kept → bore 2 of 3"}}},
		{"another step's, and so again", []step{
			{"", 0.56, "bore doubtful → bore 1 of 3"}, {"", 0.57, "strip kept → bore 1 of 3"}, {"", 63.5, "bore kept → bore 2 of 3"},
			{"", 0.62, "bore doubtful → bore 2 of 3"}, {"undo", 0, "→ bore 2 of 3"}, {"", 0.58, "bore doubtful → bore 2 of 3"}, {"", 0.9, "bore doubtful → bore 2 of 3"},
			{"", 0.9, "strip doubtful → bore 2 of 3"}, {"", 0.58, "bore doubtful → bore 2 of 3"}, {"", 0.58, "strip kept → bore 2 of 3"}, {"", 0.56, "bore doubtful → bore 2 of 3"}, {"", 0.56, "bore doubtful → bore 2 of 3"}}},
		{"a jump goes back to what is wanted", []step{
			{"jump", 0, "→ strip 1 of 2"}, {"", 0.56, "strip kept → strip 2 of 2"}, {"undo", 0, "→ strip 1 of 2"}, {"undo", 0, "→ bore 1 of 3"},
			{"jump", 0, "→ strip 1 of 2"}, {"", 0.56, "strip kept → strip 2 of 2"}, {"", 0.57, "strip kept → bore 1 of 3"},
			{"jump", 0, "→ strip 3 of 3"}, {"", 0.56, "strip kept → bore 1 of 3"}, {"skip", 0, "→ coils"}, {"jump", 0, "→ strip 4 of 4"}, {"undo", 0, "→ coils"}}},
		{"the limit itself is not too far", []step{ // 2 × 0.04 + 0.01 + 0.1 = 0.19 mm
			{"", 63.5, "bore kept → bore 2 of 3"}, {"", 63.69, "bore kept → bore 3 of 3"}, {"", 63.701, "bore doubtful → bore 3 of 3"}}},
		{"repeat asks for one more", []step{
			{"repeat", 0, "→ bore 1 of 3"}, {"", 63.5, "bore kept → bore 2 of 3"}, {"repeat", 0, "→ bore 2 of 4"}, {"undo", 0, "→ bore 2 of 3"},
			{"skip", 0, "→ strip 1 of 2"}, {"repeat", 0, "→ bore 2 of 2"}, {"", 63.5, "bore kept → strip 1 of 2"},
			{"undo", 0, "→ bore 2 of 2"}, {"undo", 0, "→ strip 1 of 2"}, {"undo", 0, "→ bore 2 of 3"}}},
	} {
		b := &bench{Progress: Start(barrel())}
		for i, s := range v.steps {
			if got := b.do(s.in, s.mm*1e-3); got != s.want {
				t.Errorf("%s, %d: %s%v gave %q, want %q", v.name, i+1, s.in, s.mm, got, s.want)
				break
			}
		}
	}
}

func TestWhy(t *testing.T) {
	p := Start(barrel())
	v := p.Judge(caliper(p, 300e-3))
	if want := "outside the plausible range, 5.00 mm (0.197 in) to 250.00 mm (9.843 in)"; v.Why != want || v.State != sessions.Doubtful {
		t.Errorf("got %q, %s; want %q", v.Why, v.State, want)
	}
	p.Keep(v, 1)
	if next, _ := p.Next(); !next.Again || next.ZeroFirst {
		t.Errorf("after a doubtful reading: got %+v, want to be asked again", next)
	}
	if v = p.Judge(caliper(p, 300e-3)); v.State != sessions.Doubtful || !strings.HasSuffix(v.Why, "Sending it again doesn't settle that: skip it, or name a wider range in a plan of your own") {
		t.Errorf("sent again: got %+v", v)
	}
	if v = p.Judge(caliper(p, 0.4e-3)); !strings.HasSuffix(v.Why, "(9.843 in). Is this the strip? If so, send it again") {
		t.Errorf("a strip where the bore was asked: got %+v", v)
	}
	p = Start(barrel())
	p.Keep(p.Judge(caliper(p, 63.5e-3)), 1)
	v = p.Judge(caliper(p, 64e-3))
	if want := "differs from an earlier reading, 63.50 mm (2.500 in), by more than the instrument can explain"; v.Why != want {
		t.Errorf("got %q, want %q", v.Why, want)
	}
}

// With nothing known of the instrument nothing can be too far from its fellows.
func TestNoLimitNoRule(t *testing.T) {
	p := barrel()
	p.Steps[0].Vary = 0
	pr := Start(p)
	pr.Keep(pr.Judge(sessions.Reading{Value: 0.06}), 1)
	if v := pr.Judge(sessions.Reading{Value: 0.07}); v.State != sessions.Kept {
		t.Errorf("got %v: %s", v.State, v.Why)
	}
}

// However keys and readings come, undoing everything leads back to the start.
func TestUndoAll(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 0))
		b := &bench{Progress: Start(barrel())}
		first, _ := b.Next()
		for range 40 {
			b.do([]string{"", "", "", "skip", "repeat", "undo", "jump"}[rng.IntN(7)], []float64{0, 0.56, 0.7, 63.5, 63.6, 64, 12000}[rng.IntN(7)]*1e-3)
		}
		for range 100 {
			b.Undo()
		}
		if next, ok := b.Next(); !ok || next != first {
			t.Fatalf("seed %d: got %+v, want %+v", seed, next, first)
		}
		if _, any := b.Last(); any {
			t.Fatalf("seed %d: something is left", seed)
		}
	}
}
