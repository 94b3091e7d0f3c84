package book

import (
	"flag"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"evenbeat/sessions"
)

var makeBook = flag.Bool("make-book", false, "write testdata/books anew, for a layout that was never released")

const bookV1 = "../../testdata/books/layout1.db"

// v1 is what the book of layout 1 in testdata was filled with; it is invented.
func v1(t *testing.T, b *Book) {
	t.Helper()
	ctx := t.Context()
	c := addClock(t, b, "Saltmarsh regulator")
	ses := startSession(t, b, c.ID, sessions.SessionTime)
	for i, v := range []float64{0.0635, 0.0636, 0.0735} {
		id, err := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: c.ID, At: noon.Add(time.Duration(i) * time.Minute), Part: "barrel",
			Dimension: "bore", Value: v, Step: 1e-5, Limit: 4e-5, State: sessions.Kept, Text: "as sent", Instrument: "caliper"})
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
	_, err := b.AddCheck(ctx, sessions.Check{ClockID: c.ID, At: noon, ErrorS: 7.5, U: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.EndSession(ctx, ses, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
}

// Books of released layouts open, and hold what they held.
func TestOldBook(t *testing.T) {
	if *makeBook {
		if err := remove(bookV1); err != nil {
			t.Fatal(err)
		}
		b := newBook(t)
		v1(t, b)
		if err := b.Backup(t.Context(), bookV1); err != nil {
			t.Fatal(err)
		}
	}
	data, err := os.ReadFile(bookV1)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "book.db")
	writeFile(t, path, string(data))
	b := open(t, path, Options{})
	sound(t, b)
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
	want := sensor(1, 300)
	for i := range want {
		want[i] = toMicroseconds(want[i])
	}
	if got, _ := beatsOf(t, b, r.Sessions[0].ID); !slices.Equal(got, want) {
		t.Errorf("%d beats differ from those recorded", len(got))
	}
}
