package plan

import (
	"reflect"
	"testing"

	"evenbeat/sessions"
)

// Readings go by what the plan of their session says they are; the record itself, and
// what no plan speaks of, stays as it is.
func TestResolve(t *testing.T) {
	own := Plan{Name: "own", Finding: sessions.SpringFinding, Steps: []Step{
		{Dimension: "wall", Is: "bore"}, {Dimension: "strip"}, {Dimension: "square"}, {Dimension: "bore", Is: "inner"}}}
	mute := Plan{Name: "mute", Steps: []Step{{Dimension: "wall"}}}
	find := func(name string) (Plan, bool) {
		p, ok := map[string]Plan{"own": own, "mute": mute}[name]
		return p, ok
	}
	rec := sessions.Record{}
	for i, name := range []string{"own", "mute", "forgotten"} {
		rec.Sessions = append(rec.Sessions, sessions.Session{ID: int64(i + 1), Kind: sessions.SessionMeasure, Plan: name})
	}
	tests := []struct {
		session   int64
		dimension string
		want      string
		finding   sessions.Finding
	}{
		{1, "wall", "bore", "spring"}, {1, "strip", "strip", "spring"}, {1, "square", "square", "spring"}, {1, "bore", "inner", "spring"},
		{1, Zero, Zero, "spring"}, {1, "from-before", "from-before", "spring"},
		{2, "wall", "wall", ""}, {3, "wall", "wall", ""}, {3, "bore", "bore", ""}, {0, "bore", "bore", ""},
	}
	for _, test := range tests {
		rec.Readings = append(rec.Readings, sessions.Reading{SessionID: test.session, Dimension: test.dimension,
			Kind: sessions.Outside, KindGuessed: test.dimension == "wall"})
	}
	before := rec
	before.Readings = append([]sessions.Reading(nil), rec.Readings...)
	got := Resolve(rec, find)
	for i, test := range tests {
		r := got.Readings[i]
		if r.Dimension != test.want || r.Finding != test.finding {
			t.Errorf("session %d, %s: got %s for %q", test.session, test.dimension, r.Dimension, r.Finding)
		}
		// A guess goes by what it turns out to be; what was recorded stands.
		kind := sessions.Outside
		if i == 0 {
			kind = sessions.Inside
		}
		if r.Kind != kind {
			t.Errorf("session %d, %s: kind %s, want %s", test.session, test.dimension, r.Kind, kind)
		}
	}
	if !reflect.DeepEqual(rec, before) {
		t.Error("the record was changed")
	}
}
