package book

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"evenbeat/sessions"
)

var makeBook = flag.Bool("make-book", false, "write testdata/books anew, for a layout that was never released")

func bookOfLayout(n int) string { return fmt.Sprintf("../../testdata/books/layout%d.db", n) }

// references is what a receiver told from a time on, once a second, 50 ms late, and
// every third time by its pulse.
func references(from time.Time, n int) (told []sessions.Reference) {
	for i := range int64(n) {
		told = append(told, sessions.Reference{HostMono: i*1e9 + 50e6, HostUTC: from.UnixNano() + i*1e9 + 50e6, Nanos: from.UnixNano() + i*1e9, ByPulse: i%3 == 0})
	}
	return told
}

// hostReadings are what a computer told an hour apart.
func hostReadings() []sessions.HostReading {
	return []sessions.HostReading{
		{Host: "a1b2", Boot: "c3d4", Synced: true, MonoNs: 5e12, RawNs: 5e12 + 7},
		{Host: "a1b2", Boot: "c3d4", Synced: true, MonoNs: 86e11, RawNs: 86e11 + 43_207},
	}
}

// told is what is told and seen of a clock; the end of the spring was seen twice.
func told(clock int64) []sessions.Particular {
	return []sessions.Particular{
		{ClockID: clock, At: noon, Name: sessions.Customer, Value: "Mrs Ashdown"},
		{ClockID: clock, At: noon, Name: sessions.Complaint, Value: "It stops at night.\nMostly on Sundays."},
		{ClockID: clock, At: noon.Add(time.Minute), Part: "barrel", Name: sessions.SpringEnd, Value: "loop"},
		{ClockID: clock, At: noon.Add(time.Hour), Part: "barrel", Name: sessions.SpringEnd, Value: "hole"},
	}
}

// fillLayout is what the books in testdata were filled with; it is invented. The
// book of layout 1 has no reference times, that of layout 2 none by pulse.
func fillLayout(t *testing.T, b *Book) {
	t.Helper()
	ctx := t.Context()
	c := addClock(t, b, "Saltmarsh regulator")
	ses := startSession(t, b, c.ID, sessions.SessionTime)
	for i, v := range []float64{0.0635, 0.0636, 0.0735} {
		id, err := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: c.ID, At: noon.Add(time.Duration(i) * time.Minute), Part: "barrel",
			Dimension: "bore", Kind: sessions.Outside, Value: v, Step: 1e-5, Limit: 4e-5, State: sessions.Kept, Text: "as sent", Instrument: "caliper"})
		if err != nil {
			t.Fatal(err)
		}
		if i == 2 {
			if err := b.Undo(ctx, id, "slip"); err != nil {
				t.Fatal(err)
			}
		}
	}
	for part := range slices.Chunk(sensor(1, 300), 100) {
		if err := b.AppendBeats(ctx, ses, part); err != nil {
			t.Fatal(err)
		}
	}
	if err := b.AppendReferences(ctx, ses, references(noon, 30)); err != nil {
		t.Fatal(err)
	}
	_, err := b.AddCheck(ctx, sessions.Check{ClockID: c.ID, At: noon, ErrorS: 7.5, U: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range hostReadings() {
		if err := b.AddHostReading(ctx, ses, r); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.AddParticulars(ctx, told(c.ID)); err != nil {
		t.Fatal(err)
	}
	if err := b.Withdraw(ctx, ThingParticular, 4, "of another spring"); err != nil {
		t.Fatal(err)
	}
	if err := b.EndSession(ctx, ses, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
}

// Books of all layouts open, are brought to the newest, and hold what they held;
// what a layout had no place for can be added then.
func TestOldBook(t *testing.T) {
	if newest := bookOfLayout(len(migrations())); *makeBook {
		if err := remove(newest); err != nil {
			t.Fatal(err)
		}
		b := newBook(t)
		fillLayout(t, b)
		if err := b.Backup(t.Context(), newest); err != nil {
			t.Fatal(err)
		}
	}
	for layout := 1; layout <= len(migrations()); layout++ {
		t.Run(fmt.Sprintf("layout %d", layout), func(t *testing.T) {
			data, err := os.ReadFile(bookOfLayout(layout))
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "book.db")
			writeFile(t, path, string(data))
			var version int
			if err := raw(t, path).QueryRow("PRAGMA user_version").Scan(&version); err != nil || version != layout {
				t.Fatalf("the file has layout %d (%v), want %d", version, err, layout)
			}
			b := open(t, path, Options{})
			sound(t, b)
			if r, err := b.Check(t.Context()); err != nil || r.Layout != len(migrations()) {
				t.Errorf("opened, it has layout %d (%v), want %d", r.Layout, err, len(migrations()))
			}
			if layout < len(migrations()) {
				kept, err := os.ReadFile(fmt.Sprintf("%s.layout-%d", path, layout))
				if err != nil || !bytes.Equal(kept[:24], data[:24]) || !bytes.Equal(kept[100:], data[100:]) { // between are counters of writes
					t.Errorf("the copy of the book as it was: %v, or not as it was", err)
				}
			}
			holdsLayout(t, b, layout)
		})
	}
}

// holdsLayout holds a book against what fillLayout put in.
func holdsLayout(t *testing.T, b *Book, layout int) {
	t.Helper()
	c, err := b.ClockByName(t.Context(), "saltmarsh regulator")
	if err != nil {
		t.Fatal(err)
	}
	r, err := b.Record(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	if r.Clock.NutPitch != 0.0007 || len(r.Readings) != 3 || r.Readings[1].Value != 0.0636 || r.Readings[2].State != sessions.Undone || r.Checks[0].ErrorS != 7.5 {
		t.Errorf("got %+v", r)
	}
	// The readings' own kind is told from layout 4 on; it was odd, so that a guess
	// can't be taken for it.
	kind := sessions.Outside
	if layout < 4 {
		kind = sessions.Inside
	}
	if x := r.Readings[0]; x.Kind != kind || x.KindGuessed != (layout < 4) {
		t.Errorf("the bore was taken %s, guessed %t; want %s", x.Kind, x.KindGuessed, kind)
	}
	ses := r.Sessions[0].ID
	want := sensor(1, 300)
	for i := range want {
		want[i] = toMicroseconds(want[i])
	}
	if got, _ := beatsOf(t, b, ses); !slices.Equal(got, want) {
		t.Errorf("%d beats differ from those recorded", len(got))
	}
	var told []sessions.Reference
	if layout > 1 {
		told = references(noon, 30)
	}
	for i := range told {
		told[i].ByPulse = told[i].ByPulse && layout > 2
	}
	later := references(noon.Add(time.Hour), 2)
	if err := b.AppendReferences(t.Context(), ses, later); err != nil {
		t.Fatal(err)
	}
	if got, err := b.References(t.Context(), ses); err != nil || !slices.Equal(got, append(told, later...)) {
		t.Errorf("%d reference times (%v), want %d: %v", len(got), err, len(told)+2, got)
	}
	clock := []sessions.HostReading(nil)
	if layout > 6 {
		clock = hostReadings()
	}
	holdsParticulars(t, b, c.ID, layout)
	if got, err := b.HostReadings(t.Context(), ses); err != nil || !slices.Equal(got, clock) {
		t.Errorf("the computer told %v (%v), want %v", got, err, clock)
	}
	other := sessions.HostReading{Host: "e5f6", Boot: "c3d4", MonoNs: 1, RawNs: 1}
	if err := b.AddHostReading(t.Context(), ses, other); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		before time.Time
		want   int
	}{{noon, 0}, {noon.Add(time.Nanosecond), 1}} {
		if all, err := b.SessionsOn(t.Context(), "e5f6", tc.before, 9); err != nil || len(all) != tc.want {
			t.Errorf("%d sessions on that computer before %v (%v), want %d", len(all), tc.before, err, tc.want)
		}
	}
	if _, err := b.StartSession(t.Context(), sessions.Session{ClockID: c.ID, Kind: sessions.SessionAir, Started: noon}); err != nil {
		t.Errorf("a session of the air alone: %v", err)
	}
	if _, err := raw(t, b.path).Exec("INSERT INTO sessions (clock_id, kind, part, plan, port, profile, started_ns, count_rate, count_bits, host_synced, host_known, host_max_error_s) VALUES (1, 'airs', '', '', '', '', 0, 0, 0, 0, 0, 0)"); err == nil {
		t.Error("a session of a kind that there is not is taken")
	}
	if err := b.Withdraw(t.Context(), ThingSession, ses, "the lamp flickered"); err != nil {
		t.Fatal(err)
	}
	if all, err := b.SessionsOn(t.Context(), "e5f6", noon.Add(time.Hour), 9); err != nil || len(all) != 0 {
		t.Errorf("%d sessions on that computer (%v) after the only one was taken back", len(all), err)
	}
}

// holdsParticulars holds them against what fillLayout put in, and adds one to books from
// before.
func holdsParticulars(t *testing.T, b *Book, clock int64, layout int) {
	t.Helper()
	if layout < 8 {
		if _, err := b.AddParticulars(t.Context(), told(clock)[:3]); err != nil {
			t.Fatal(err)
		}
	}
	r, err := b.Record(t.Context(), clock)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Particulars) != 3 || r.Particular("barrel", sessions.SpringEnd).Value != "loop" || r.Particular("", sessions.Customer).Value != "Mrs Ashdown" {
		t.Errorf("it was told %+v", r.Particulars)
	}
	if w := r.Withdrawn.Particulars; layout >= 8 && (len(w) != 1 || w[0].Why != "of another spring") {
		t.Errorf("taken back: %+v", w)
	}
}

// What was taken back in a book of layout 7 is so after its table of withdrawals was made
// anew, and stays protected.
func TestOldWithdrawals(t *testing.T) {
	path := filepath.Join(t.TempDir(), "book.db")
	writeFile(t, path, string(readFile(t, bookOfLayout(7))))
	if _, err := raw(t, path).Exec("INSERT INTO withdrawals (id, at_ns, thing, row_id, why) VALUES (5, 7, 'check', 1, 'misread')"); err != nil {
		t.Fatal(err)
	}
	b := open(t, path, Options{})
	sound(t, b)
	r, err := b.Record(t.Context(), 1)
	if err != nil || len(r.Checks) != 0 || len(r.Withdrawn.Checks) != 1 || r.Withdrawn.Checks[0].Why != "misread" {
		t.Errorf("%v: %+v, taken back %+v", err, r.Checks, r.Withdrawn.Checks)
	}
	var said string
	if err := raw(t, path).QueryRow("SELECT group_concat(id || at_ns || thing || row_id || why) FROM withdrawals").Scan(&said); err != nil || said != "57check1misread" {
		t.Errorf("%v: the rows are %q", err, said)
	}
	if _, err := raw(t, path).Exec("DELETE FROM withdrawals"); err == nil {
		t.Error("a withdrawal could be deleted")
	}
	if err := b.Withdraw(t.Context(), ThingNote, 9, ""); kindOf(err) != KindUnknown {
		t.Errorf("a note that isn't there: %v", err)
	}
}
