package plan

import (
	"slices"
	"strings"
	"testing"

	"evenbeat/sessions"
)

// monday is what an earlier session kept: all of the bore, half of the strip, and what
// has no part in the plan.
func monday() []sessions.Reading {
	var out []sessions.Reading
	for i, r := range []struct {
		dimension string
		mm        float64
		state     sessions.State
	}{{"bore", 63.5, sessions.Kept}, {"bore", 63.52, sessions.Kept}, {"bore", 63.51, sessions.Kept}, {"strip", 0.4, sessions.Kept},
		{"strip", 0.9, sessions.Doubtful}, {"strip", 0.8, sessions.Undone}, {"depth", 30, sessions.Kept}} {
		out = append(out, sessions.Reading{ID: int64(i + 1), Dimension: r.dimension, Value: r.mm * 1e-3, Limit: 0.02e-3, State: r.state})
	}
	return out
}

func TestBegin(t *testing.T) {
	for _, c := range []struct {
		wish         Wish
		next, wanted string
	}{
		{Wish{}, "strip 2 of 2", "strip (1 more), coils"},
		{Wish{From: "co"}, "coils", "coils"},
		{Wish{From: "bo"}, "bore 1 of 3", "bore, strip (1 more), coils"},
		{Wish{Only: []string{"bore"}}, "bore 1 of 3", "bore"},
		{Wish{Only: []string{"coils", "st"}}, "strip 1 of 2", "strip, coils"},
		{Wish{Anew: true}, "bore 1 of 3", "bore, strip, coils"},
		{Wish{Anew: true, From: "strip"}, "strip 1 of 2", "strip, coils"},
	} {
		p, err := Begin(barrel(), c.wish, monday())
		if err != nil {
			t.Fatal(err)
		}
		next, _ := p.Next()
		if got := strings.Join(p.Left().Wanted, ", "); next.String() != c.next || got != c.wanted {
			t.Errorf("%+v begins at %q and wants %q, want %q and %q", c.wish, next, got, c.next, c.wanted)
		}
	}
	for letters, want := range map[string]string{"lid": `plan barrel has no dimension "lid": use bore, strip or coils`, "": `has no dimension ""`} {
		if _, err := Begin(barrel(), Wish{Only: []string{letters}}, nil); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("only %q: %v, want %s", letters, err, want)
		}
	}
	two := barrel()
	two.Steps[2].Dimension = "strip-end"
	if _, err := Begin(two, Wish{From: "str"}, nil); err == nil || !strings.Contains(err.Error(), "may be strip or strip-end") {
		t.Errorf("from str: %v", err)
	}
	if _, err := Begin(two, Wish{From: "strip"}, nil); err != nil {
		t.Errorf("from strip: %v", err)
	}
}

// What was there is held against what is new, is never undone by closed jaws, and is set
// aside only where it is measured anew.
func TestBeginKeepsTheEarlier(t *testing.T) {
	p, err := Begin(barrel(), Wish{}, monday())
	if err != nil {
		t.Fatal(err)
	}
	if _, anew := p.Anew(); anew {
		t.Error("an earlier reading is set aside")
	}
	if _, any := p.Last(); any {
		t.Error("an earlier reading could be undone")
	}
	if v := p.Judge(caliper(p, 0.46e-3)); v.State != sessions.Doubtful || !strings.Contains(v.Why, "0.40 mm") {
		t.Errorf("0.46 mm beside 0.40 mm of another day: %+v", v)
	}
	if p, err = Begin(barrel(), Wish{Anew: true, Only: []string{"strip"}}, monday()); err != nil {
		t.Fatal(err)
	}
	if v := p.Judge(caliper(p, 0.45e-3)); v.State != sessions.Kept {
		t.Errorf("of a new spring: %+v", v)
	}
	if got, anew := p.Anew(); !anew || !slices.Equal(got, []string{"strip"}) {
		t.Errorf("set aside: %q, want the strip", got)
	}
	all, err := Begin(barrel(), Wish{Anew: true}, monday())
	if err != nil {
		t.Fatal(err)
	}
	if got, anew := all.Anew(); !anew || len(got) > 0 {
		t.Errorf("set aside: %q, want the whole part", got)
	}
	if p.ToldAnew(); !slices.Equal(p.Left().Wanted, []string{"strip"}) {
		t.Errorf("wanted: %q", p.Left().Wanted)
	}
}

// A reading is taken back whichever session it is of, and the plan asks for it again.
func TestTakeBack(t *testing.T) {
	p, err := Begin(barrel(), Wish{}, monday())
	if err != nil {
		t.Fatal(err)
	}
	b := &bench{Progress: p, id: 20}
	b.do("", 0.41e-3)
	for _, c := range []struct {
		id   int64
		has  bool
		want string
	}{{21, true, "strip (1 more), coils"}, {2, true, "bore (1 more), strip (1 more), coils"}, {2, false, "bore (1 more), strip (1 more), coils"},
		{6, false, "bore (1 more), strip (1 more), coils"}, {99, false, "bore (1 more), strip (1 more), coils"}, {0, false, "bore (1 more), strip (1 more), coils"}} {
		had := p.Has(c.id)
		if took := p.TakeBack(c.id); took != c.has || had != c.has {
			t.Errorf("reading %d: there %t, taken back %t, want %t", c.id, had, took, c.has)
		}
		if got := strings.Join(p.Left().Wanted, ", "); got != c.want {
			t.Errorf("without reading %d it wants %q, want %q", c.id, got, c.want)
		}
	}
	p.Skip()
	b.do("", 0.9e-3)
	want := []StepLeft{{"bore", 2, 0, true}, {"strip", 1, 1, false}, {"coils", 0, 1, false}}
	if got := p.Left().Steps; !slices.Equal(got, want) {
		t.Errorf("step by step: %#v, want %#v", got, want)
	}
}

// Of two instruments the one that was used for the strip goes on there, sent once, while
// the bore is asked for. What doesn't agree there, or comes from one instrument alone, is
// doubtful as ever.
func TestUseTellsTheDimension(t *testing.T) {
	p := Start(barrel())
	send := func(by string, mm float64) string {
		r := caliper(p, mm*1e-3)
		r.Instrument = by
		v := p.Judge(r)
		p.Keep(v, 1)
		return v.Dimension + " " + string(v.State)
	}
	for i, c := range []struct {
		by   string
		mm   float64
		want string
	}{
		{"micrometer", 0.402, "bore doubtful"}, {"micrometer", 0.402, "strip kept"},
		{"micrometer", 0.41, "bore doubtful"},                                 // the only one
		{"caliper", 63.5, "bore kept"}, {"micrometer", 0.61, "bore doubtful"}, // far from 0.402
		{"caliper", 0.41, "bore doubtful"},                                        // not what it was used for
		{"micrometer", 0.41, "strip kept"}, {"micrometer", 0.41, "bore doubtful"}, // all are there
	} {
		if got := send(c.by, c.mm); got != c.want {
			t.Errorf("%d: %v mm by the %s is %s, want %s", i+1, c.mm, c.by, got, c.want)
		}
	}
}
