package analysis

import (
	"strings"
	"testing"

	"evenbeat/analysis/parts"
	"evenbeat/sessions"
)

// TestFits takes a record through a day at the bench: a pivot alone, then its bush,
// then a second pivot with a bush of its own.
func TestFits(t *testing.T) {
	var rec sessions.Record
	read := func(part, dimension string, mm float64) {
		id := int64(len(rec.Readings) + 1)
		rec.Readings = append(rec.Readings, sessions.Reading{ID: id, SessionID: 1, Part: part, Dimension: dimension, Kind: sessions.UsualKind(dimension),
			Value: mm * 1e-3, Limit: 4e-6, Step: 1e-6, Instrument: "micrometer", State: sessions.Kept})
	}
	find := func() []parts.Result {
		t.Helper()
		found, err := Fits(rec, usualPartsOptions())
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	if got := find(); len(got) != 0 {
		t.Errorf("empty record: %+v, want nothing", got)
	}
	read("pivot", "shoulder", 1.000)
	read("pivot", "shoulder", 1.001)
	got := find()
	if len(got) != 1 || got[0].Verdict != parts.CannotTell || !strings.Contains(strings.Join(got[0].Next, " "), "hole") {
		t.Errorf("pivot alone: %+v, want one that can't be told and asks for the hole", got)
	}
	read("bushing", "hole", 1.060)
	read("bushing", "hole", 1.061)
	if got = find(); len(got) != 1 || got[0].Part != "pivot" || len(got[0].Figures) == 0 {
		t.Errorf("pivot and bush: %+v, want one fit with figures", got)
	}
	read("front", "shoulder", 2.000)
	read("front", "hole", 3.000)
	if got = find(); len(got) != 2 || got[1].Part != "front" || got[1].Verdict != parts.Bad {
		t.Errorf("a second pivot, loose by half its size: %+v, want it not good", got)
	}
	if len(got[1].Next) == 0 || !strings.HasPrefix(got[1].Next[0], "front: bush the hole") {
		t.Errorf("a step that doesn't name its part first: %q", got[1].Next)
	}
	if len(got[1].Matters) != 1 || !strings.HasPrefix(got[1].Matters[0], "front: the pivot has 1.000") || !strings.HasPrefix(got[1].Reasons[0], "The pivot has 1.000") {
		t.Errorf("what matters of several parts: %q, of %q", got[1].Matters, got[1].Reasons)
	}
}
