package book

import (
	"database/sql"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"

	"evenbeat/sessions"
)

// raw opens the same file as any SQLite tool would.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := driver.Open(uri(path, ""))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// filled returns a book with at least one row in every table, and its clock and
// timing session.
func filled(t *testing.T) (*Book, sessions.Clock, int64) {
	t.Helper()
	ctx := t.Context()
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	ses := startSession(t, b, c.ID, sessions.SessionTime)
	id, err := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: c.ID, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Kept, Text: "60mm"})
	_, errFault := b.AddFault(ctx, sessions.Fault{SessionID: ses, At: noon, Kind: "unplugged", Text: "gone"})
	_, errCheck := b.AddCheck(ctx, sessions.Check{ClockID: c.ID, At: noon, ErrorS: 1})
	_, errEvent := b.AddEvent(ctx, sessions.Event{ClockID: c.ID, At: noon, Kind: sessions.EventWound})
	_, errTold := b.AddParticulars(ctx, told(c.ID))
	_, errAir := b.AddAir(ctx, sessions.Air{ClockID: c.ID, At: noon, PressureHPa: 1013, HasPressure: true})
	err = errors.Join(err, errFault, errCheck, errEvent, errAir, errTold, b.Undo(ctx, id, "slip"), b.UseClock(ctx, c.ID),
		b.AppendBeats(ctx, ses, sensor(5, 3)), b.AppendBeats(ctx, ses, sensor(6, 2)), b.AppendReferences(ctx, ses, references(noon, 2)),
		b.AddHostReading(ctx, ses, hostReadings()[0]), b.EndSession(ctx, ses, noon.Add(time.Hour)))
	if err != nil {
		t.Fatal(err)
	}
	return b, c, ses
}

// Another program can't change, delete or replace a row in any table, old or new.
func TestNothingRecordedIsChanged(t *testing.T) {
	b, c, ses := filled(t)
	if err := errors.Join(b.Withdraw(t.Context(), ThingCheck, 1, "slip"), b.MoveSession(t.Context(), ses, c.ID, "barrel")); err != nil {
		t.Fatal(err)
	}
	db := raw(t, b.path)
	rows, err := query(t.Context(), b, "listing", func(r *sql.Rows) (string, error) {
		var s string
		return s, r.Scan(&s)
	}, "SELECT name FROM sqlite_schema WHERE type = 'table'")
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 17 {
		t.Errorf("%d tables, want 17: %v", len(rows), rows)
	}
	for _, table := range rows {
		var n int
		if err := db.QueryRow("SELECT count(*) FROM " + table).Scan(&n); err != nil || n == 0 {
			t.Errorf("%s holds %d rows (%v): the test needs one", table, n, err)
		}
		for _, stmt := range []string{
			"UPDATE " + table + " SET rowid = rowid + 100",
			"DELETE FROM " + table,
			"INSERT OR REPLACE INTO " + table + " SELECT * FROM " + table,
		} {
			_, err := db.Exec(stmt)
			if !errors.Is(err, sqlite3.CONSTRAINT) || !strings.Contains(err.Error(), "nothing recorded is") {
				t.Errorf("%s: got %v, want it refused", stmt, err)
			}
		}
	}
	if r, err := b.Check(t.Context()); err != nil || !r.OK() {
		t.Errorf("after all that: %v %v", r.Problems, err)
	}
}

// Another program, which checks nothing of its own, can't put in what isn't finite, what
// points nowhere, or beats that are there already.
func TestBookRefusesInItself(t *testing.T) {
	b, _, _ := filled(t) // five beats in chunks of three and two
	db := raw(t, b.path)
	for _, c := range []struct{ stmt, why string }{
		{"INSERT INTO checks (clock_id, at_ns, error_s, u_s) VALUES (1, 0, 9e999, 1)", "checks: a value must be finite"},
		{"INSERT INTO air (clock_id, at_ns, temperature_c) VALUES (1, 0, -9e999)", "air: a value must be finite"},
		{"INSERT INTO checks (clock_id, at_ns, error_s, u_s) VALUES (7, 0, 1, 1)", "checks: it points at a row that is not there"},
		{"INSERT INTO particulars (clock_id, at_ns, part, name, value) VALUES (7, 0, '', 'serial', '1')", "particulars: it points at a row that is not there"},
		{"INSERT INTO withdrawals (at_ns, thing, row_id, why) VALUES (0, 'particular', 7, '')", "withdrawals: it points at a row that is not there"},
		{"INSERT INTO faults (session_id, at_ns, kind, text) VALUES (7, 0, 'x', '')", "faults: it points at a row that is not there"},
		{"INSERT INTO beat_chunks (session_id, first_beat, beats, data) VALUES (1, 4, 3, x'00')", "beat_chunks: its beats are there already"},
		{"INSERT INTO beat_chunks (session_id, first_beat, beats, data) VALUES (1, 0, 4, x'00')", "beat_chunks: its beats are there already"},
		{"INSERT INTO beat_chunks (session_id, first_beat, beats, data) VALUES (1, 1, 1, x'00')", "beat_chunks: its beats are there already"},
		{"INSERT INTO beat_chunks (session_id, first_beat, beats, data) VALUES (1, 3, 9, x'00')", "beat_chunks: its beats are there already"},
	} {
		if _, err := db.Exec(c.stmt); err == nil || !strings.Contains(err.Error(), c.why) {
			t.Errorf("%s: got %v, want %s", c.stmt, err, c.why)
		}
	}
}

// What no measurement gives, and what points nowhere, is an error that says so;
// nothing of it is kept.
func TestRefused(t *testing.T) {
	ctx := t.Context()
	b, c, ses := filled(t)
	before, err := b.Record(ctx, c.ID)
	if err != nil {
		t.Fatal(err)
	}
	good := sessions.Reading{ClockID: c.ID, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: 1, State: sessions.Kept}
	brought := func(in Incoming) error {
		_, err := b.Import(ctx, in)
		return err
	}
	with := func(change func(*sessions.Reading)) error {
		r := good
		change(&r)
		return brought(Incoming{Readings: []sessions.Reading{good, r}})
	}
	for _, k := range []struct {
		name string
		err  error
		kind Kind
		text string
	}{
		{"not a number", with(func(r *sessions.Reading) { r.Value = math.NaN() }), KindInput, "row 2: reading bore: value NaN can't be recorded: it must be a number"},
		{"infinite", with(func(r *sessions.Reading) { r.Limit = math.Inf(1) }), KindInput, "row 2: reading bore: limit of error +Inf can't be recorded: it must be a number"},
		{"negative", with(func(r *sessions.Reading) { r.U = -1 }), KindInput, "row 2: reading bore: uncertainty -1 must not be less than 0"},
		{"no dimension", with(func(r *sessions.Reading) { r.Dimension = "" }), KindInput, "row 2: a reading needs a dimension"},
		{"no state", with(func(r *sessions.Reading) { r.State = "" }), KindInput, `row 2: reading bore: state "": a new reading is kept or doubtful`},
		{"no time", with(func(r *sessions.Reading) { r.At = time.Time{} }), KindInput, "row 2: reading bore: time 0001-01-01T00:00:00Z is outside the years 1678 to 2261"},
		{"no session", with(func(r *sessions.Reading) { r.SessionID = 9 }), KindUnknown, "row 2: there is no session 9 in the book"},
		{"no clock", with(func(r *sessions.Reading) { r.ClockID = 9 }), KindUnknown, "row 2: there is no clock 9 in the book"},
		{"undo of nothing", b.Undo(ctx, 99, ""), KindUnknown, "there is no reading 99 in the book"},
		{"end of nothing", b.EndSession(ctx, 99, noon), KindUnknown, "there is no session 99 in the book"},
		{"beats of nothing", b.AppendBeats(ctx, 99, sensor(1, 1)), KindUnknown, "there is no session 99 in the book"},
		{"reference of nothing", b.AppendReferences(ctx, 99, references(noon, 1)), KindUnknown, "there is no session 99 in the book"},
		{"event", brought(Incoming{Events: []sessions.Event{{ClockID: c.ID, At: noon, Kind: "dusted"}}}), KindInput,
			`row 1: event of kind "dusted" is not known: use wound, adjusted, moved, oiled, cleaned, repaired, bushed, replaced, stopped, started, set, remark`},
		{"no air", brought(Incoming{Air: []sessions.Air{{ClockID: c.ID, At: noon}}}), KindInput, "row 1: air: nothing was measured: give temperature, pressure or humidity"},
	} {
		if kindOf(k.err) != k.kind || k.err.Error() != k.text {
			t.Errorf("%s:\ngot  %v (%s)\nwant %s (%s)", k.name, k.err, kindOf(k.err), k.text, k.kind)
		}
	}
	after, err := b.Record(ctx, c.ID)
	if err != nil || len(after.Readings) != len(before.Readings) {
		t.Errorf("%d readings after, %d before, %v", len(after.Readings), len(before.Readings), err)
	}
	if err := b.EndSession(ctx, ses, noon); err != nil {
		t.Errorf("a second end: %v", err)
	}
	if s, err := b.Session(ctx, ses); err != nil || !s.Ended.Equal(noon.Add(time.Hour)) {
		t.Errorf("the first end stands: got %v, %v", s.Ended, err)
	}
}

func beatsOf(t *testing.T, b *Book, ses int64) (all []sessions.Beat, steps int) {
	t.Helper()
	for beats, err := range b.Beats(t.Context(), ses) {
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, beats...)
		steps++
	}
	return all, steps
}

// Beats appended a few at a time come back in order, before and after compacting.
func TestBeats(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	ses, other := startSession(t, b, c.ID, sessions.SessionTime), startSession(t, b, c.ID, sessions.SessionTime)
	want := sensor(7, 2*largeChunk+500)
	for part := range slices.Chunk(want, 300) {
		if err := errors.Join(b.AppendBeats(ctx, ses, part), b.AppendBeats(ctx, other, part[:1])); err != nil {
			t.Fatal(err)
		}
	}
	for i := range want {
		want[i] = toMicroseconds(want[i])
	}
	chunks := func() (n int) {
		if err := b.db.QueryRow("SELECT count(*) FROM beat_chunks WHERE session_id = ?", ses).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	if got, steps := beatsOf(t, b, ses); !slices.Equal(got, want) || steps > 9 {
		t.Errorf("as appended: %d beats in %d steps, want %d in at most 9, all equal", len(got), steps, len(want))
	}
	for range 2 { // the second time there is nothing to do
		if err := b.CompactBeats(ctx, ses); err != nil {
			t.Fatal(err)
		}
		if got, _ := beatsOf(t, b, ses); !slices.Equal(got, want) {
			t.Errorf("compacted: %d beats, want %d, all equal", len(got), len(want))
		}
		if n := chunks(); n != 3 {
			t.Errorf("%d chunks, want 3", n)
		}
	}
	if n, err := b.BeatCount(ctx, ses); n != int64(len(want)) || err != nil {
		t.Errorf("counted %d, %v", n, err)
	}
	if r, err := b.Check(ctx); err != nil || !r.OK() {
		t.Errorf("check: %v %v", r.Problems, err)
	}
	for range b.Beats(ctx, ses) {
		break // leaving the walk frees its connection
	}
	if n := b.db.Stats().InUse; n != 0 {
		t.Errorf("%d connections in use", n)
	}
}
