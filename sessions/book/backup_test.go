package book

import (
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/google/go-cmp/cmp"

	"evenbeat/sessions"
)

func content(t *testing.T, path string) (sessions.Record, []sessions.Beat) {
	t.Helper()
	b, err := Open(t.Context(), path, Options{}) // with write access, so that nothing stays beside it
	if err != nil {
		t.Fatal(err)
	}
	r, err := b.Record(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	beats, _ := beatsOf(t, b, 1)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return r, beats
}

func files(t *testing.T, dir string) (names []string) {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range all {
		names = append(names, f.Name())
	}
	return names
}

// A backup taken while the book is written to holds a state it had, and opens.
func TestBackupWhileWriting(t *testing.T) {
	b, c, _ := filled(t)
	var stop atomic.Bool
	done := make(chan int)
	began := make(chan struct{})
	go func() {
		n := 0
		for ; !stop.Load() || n == 0; n++ {
			if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: float64(n)}); err != nil {
				t.Error(err)
			}
			if n == 0 {
				close(began)
			}
		}
		done <- n
	}()
	<-began
	dir := t.TempDir()
	path := filepath.Join(dir, "backup.db")
	if err := b.Backup(t.Context(), path); err != nil {
		t.Error(err)
	}
	stop.Store(true)
	written := <-done
	r, beats := content(t, path)
	if n := len(r.Checks); n < 2 || n > written+1 || len(beats) != 5 {
		t.Errorf("backup holds %d checks of %d, %d beats", n, written+1, len(beats))
	}
	for i, k := range r.Checks[1:] {
		if k.ErrorS != float64(i) {
			t.Fatalf("check %d is %v", i, k.ErrorS)
		}
	}
	if got := files(t, dir); !slices.Equal(got, []string{"backup.db"}) {
		t.Errorf("left behind: %v", got)
	}
	before := sum(t, path)
	if err := b.Backup(t.Context(), path); kindOf(err) != KindExists || err.Error() != path+" is there already: name a new file" {
		t.Errorf("over a file: got %v", err)
	}
	if err := b.Backup(t.Context(), b.path); kindOf(err) != KindExists {
		t.Errorf("over itself: got %v", err)
	}
	if sum(t, path) != before {
		t.Error("the file that was there was changed")
	}
}

func TestRestore(t *testing.T) {
	b, c, _ := filled(t)
	dir := filepath.Dir(b.path)
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	want, wantBeats := content(t, backup)
	if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: 99}); err != nil {
		t.Fatal(err)
	}

	// In use: refused, and nothing is moved.
	if _, err := Restore(t.Context(), backup, b.path); kindOf(err) != KindBusy {
		t.Fatalf("over a book in use: got %v", err)
	}
	if got := files(t, dir); !slices.Equal(got, []string{"book.db", "book.db-shm", "book.db-tally", "book.db-wal"}) {
		t.Errorf("files %v", got)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}

	// The same once more, then over a book too damaged to open, then where none is.
	kept, err := Restore(t.Context(), backup, b.path)
	if err != nil || kept != b.path+".replaced-1" {
		t.Fatalf("kept %q, %v", kept, err)
	}
	if r, _ := content(t, kept); len(r.Checks) != 2 {
		t.Errorf("the replaced book holds %d checks, want 2", len(r.Checks))
	}
	writeFile(t, b.path, "ruined")
	if kept, err := Restore(t.Context(), backup, b.path); err != nil || kept != b.path+".replaced-2" {
		t.Fatalf("kept %q, %v", kept, err)
	}
	elsewhere := filepath.Join(dir, "new", "book.db")
	if kept, err := Restore(t.Context(), backup, elsewhere); err != nil || kept != "" {
		t.Fatalf("kept %q, %v", kept, err)
	}
	for _, path := range []string{b.path, elsewhere} {
		got, beats := content(t, path)
		if d := cmp.Diff(want, got); d != "" || !slices.Equal(beats, wantBeats) {
			t.Errorf("%s (-want +got):\n%s", path, d)
		}
	}

	// A damaged backup replaces nothing.
	edit(t, backup, func(d []byte) []byte {
		clear(d[len(d)/8192*4096:][:4096])
		return d
	})
	before := sum(t, b.path)
	if _, err := Restore(t.Context(), backup, b.path); kindOf(err) != KindDamaged {
		t.Errorf("from a damaged backup: got %v", err)
	}
	if _, err := Restore(t.Context(), backup+"x", b.path); kindOf(err) != KindMissing {
		t.Errorf("from nowhere: got %v", err)
	}
	if sum(t, b.path) != before {
		t.Error("the book was changed")
	}
	if got := files(t, dir); !slices.Equal(got, []string{"book.db", "book.db.replaced-1", "book.db.replaced-2", "new"}) {
		t.Errorf("files %v", got)
	}
}

// A log that is left where no book lies is another book's: it is not taken for the log of
// the one that is made or restored there.
func TestLogWithoutBook(t *testing.T) {
	b, _, _ := filled(t)
	backup := filepath.Join(t.TempDir(), "backup.db")
	if err := b.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	want, _ := content(t, backup)
	if _, err := b.AddClock(t.Context(), sessions.Clock{Name: "Barn"}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "book.db")
	for _, more := range []string{"-wal", tallySuffix} {
		writeFile(t, path+more, string(readFile(t, b.path+more)))
	}
	if _, err := Open(t.Context(), path, Options{Create: true}); kindOf(err) != KindDamaged || exists(path) {
		t.Errorf("making a book beside it: %v", err)
	}
	if kept, err := Restore(t.Context(), backup, path); err != nil || kept != "" {
		t.Fatalf("kept %q, %v", kept, err)
	}
	if got, _ := content(t, path); cmp.Diff(want, got) != "" {
		t.Errorf("restored: %v", cmp.Diff(want, got))
	}
	sound(t, open(t, path, Options{}))
	if log := sum(t, path+".replaced-1-wal"); log != sum(t, b.path+"-wal") {
		t.Error("the log was not kept")
	}
}
