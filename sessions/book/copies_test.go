package book

import (
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"evenbeat/sessions"
)

// A copy a day is kept, the newest ones only, and each holds what the book did that day.
func TestDailyCopies(t *testing.T) {
	b, c, _ := filled(t)
	dir := filepath.Join(filepath.Dir(b.path), "book.copies")
	copyOn := func(day, keep int) {
		t.Helper()
		b.daily, b.now = keep, func() time.Time { return noon.AddDate(0, 0, day) }
		startSession(t, b, c.ID, sessions.SessionMeasure)
		b.copying.Wait()
	}
	copyOn(0, 0)
	if exists(dir) {
		t.Fatal("a copy was made where none was to be")
	}
	for day := range 9 {
		copyOn(day, 3)
		if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon.AddDate(0, 0, day)}); err != nil {
			t.Fatal(err)
		}
		copyOn(day, 3) // a second session on that day
	}
	want := []string{"2026-03-20.db", "2026-03-21.db", "2026-03-22.db"}
	if got := files(t, dir); !slices.Equal(got, want) {
		t.Errorf("kept are %v, want %v", got, want)
	}
	for i, name := range want {
		r, _ := content(t, filepath.Join(dir, name))
		if len(r.Checks) != 7+i {
			t.Errorf("%s holds %d checks, want %d", name, len(r.Checks), 7+i)
		}
	}
	// What isn't a daily copy stays, and a copy of a day to come doesn't displace today's.
	writeFile(t, filepath.Join(dir, "2026-03-01 mine.db"), "mine")
	move(t, filepath.Join(dir, want[2]), filepath.Join(dir, "2099-01-01.db"))
	writeFile(t, filepath.Join(dir, ".2026-03-20.db.new-77"), "half a copy, of a killed program")
	copyOn(9, 1)
	if got, want := files(t, dir), []string{"2026-03-01 mine.db", "2026-03-23.db", "2099-01-01.db"}; !slices.Equal(got, want) {
		t.Errorf("kept are %v, want %v", got, want)
	}
}

// A damaged book makes no copy, and no sound one goes for it.
func TestDailyCopyOfDamaged(t *testing.T) {
	path := closedBook(t)
	b := open(t, path, Options{DailyCopies: 1})
	if err := b.copyToday(t.Context(), noon); err != nil {
		t.Fatal(err)
	}
	root := rootOf(t, path, "checks")
	edit(t, path, func(d []byte) []byte {
		d[root*pageSize-20] ^= 4
		return d
	})
	hurt := open(t, path, Options{DailyCopies: 1})
	if err := hurt.copyToday(t.Context(), noon.AddDate(0, 0, 1)); kindOf(err) != KindDamaged {
		t.Errorf("copying a damaged book: %v", err)
	}
	if got := files(t, copiesFolder(path)); !slices.Equal(got, []string{"2026-03-14.db"}) {
		t.Errorf("kept are %v, want the sound copy", got)
	}
}

// A copy is made in one go while a session records without a pause, and a session that ends
// at once waits for it.
func TestDailyCopyBesideSession(t *testing.T) {
	path := closedBook(t)
	b, err := Open(t.Context(), path, Options{DailyCopies: 7, Now: func() time.Time { return noon }})
	if err != nil {
		t.Fatal(err)
	}
	ses := startSession(t, b, 1, sessions.SessionTime)
	for range 20 {
		if err := b.AppendBeats(t.Context(), ses, sensor(1, 100)); err != nil {
			t.Fatal(err)
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	if r, _ := content(t, filepath.Join(copiesFolder(path), "2026-03-14.db")); len(r.Sessions) != 2 {
		t.Errorf("the copy holds %d sessions, want 2", len(r.Sessions))
	}
}

// The copies that the program makes by itself are known, and no other file is.
func TestCopiesOf(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "book.db")
	if all, err := CopiesOf(path); err != nil || len(all) > 0 {
		t.Errorf("without a book: %v, %v", all, err)
	}
	if err := os.Mkdir(copiesFolder(path), 0o700); err != nil {
		t.Fatal(err)
	}
	var want []string
	for _, name := range []string{"book.copies/2026-03-14.db", "book.db.layout-4", "book.db.layout-4-2", "book.db.replaced-1"} {
		want = append(want, filepath.Join(dir, name))
		writeFile(t, filepath.Join(dir, name), "")
	}
	for _, name := range []string{"book.db", "book.db.csv", "other.db.layout-4", "book.copies/mine.db"} {
		writeFile(t, filepath.Join(dir, name), "")
	}
	if all, err := CopiesOf(path); err != nil || !slices.Equal(all, want) {
		t.Errorf("got %v, %v; want %v", all, err, want)
	}
}
