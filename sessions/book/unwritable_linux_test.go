package book

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"evenbeat/sessions"
)

// readOnlyPlace mounts a folder read-only over itself.
func readOnlyPlace(t *testing.T, dir string) {
	t.Helper()
	if err := syscall.Mount(dir, dir, "", syscall.MS_BIND, ""); err != nil {
		t.Skip("needs the right to mount a folder read-only: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	if err := syscall.Mount("", dir, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
}

// unwritables are the ways in which a book, of one clock and one check, lies where it can't
// be written.
var unwritables = []struct {
	name string
	make func(t *testing.T, dir string)
}{
	{"closed", func(t *testing.T, dir string) { move(t, closedBook(t), filepath.Join(dir, "book.db")) }},
	{"layout 1", func(t *testing.T, dir string) {
		writeFile(t, filepath.Join(dir, "book.db"), string(readFile(t, bookOfLayout(1))))
	}},
	{"layout 6, an empty log beside it", func(t *testing.T, dir string) {
		writeFile(t, filepath.Join(dir, "book.db"), string(readFile(t, bookOfLayout(6))))
		writeFile(t, filepath.Join(dir, "book.db-wal"), "")
	}},
	{"all in its log alone", func(t *testing.T, dir string) { killed(t, dir, "", "-wal") }},
	{"all in its log, with an index", func(t *testing.T, dir string) { killed(t, dir, "", "-wal", "-shm") }},
	{"an index alone beside it", func(t *testing.T, dir string) {
		move(t, closedBook(t), filepath.Join(dir, "book.db"))
		writeFile(t, filepath.Join(dir, "book.db-shm"), "")
	}},
}

// killed leaves in dir what a killed recorder does: a book with a clock and a check that
// lie in its log alone.
func killed(t *testing.T, dir string, files ...string) {
	t.Helper()
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: 1}); err != nil {
		t.Fatal(err)
	}
	for _, more := range files {
		writeFile(t, filepath.Join(dir, "book.db"+more), string(readFile(t, b.path+more)))
	}
}

// On a disk that is mounted read-only, and in a folder that may not be written, a book is
// read whatever is beside it, and nothing that is there changes.
func TestReadWhereUnwritable(t *testing.T) {
	reads := func(t *testing.T, path string) {
		b, err := Open(t.Context(), path, Options{Reading: true})
		if err != nil {
			t.Error(err)
			return
		}
		clocks, err := b.Clocks(t.Context())
		if err != nil || len(clocks) != 1 {
			t.Errorf("%v, %v; want a clock", clocks, err)
		}
		if r, err := b.Record(t.Context(), 1); err != nil || len(r.Checks) != 1 {
			t.Errorf("%d checks, %v; want 1", len(r.Checks), err)
		}
		if r, err := b.Check(t.Context()); err != nil || !r.OK() || r.Layout != len(migrations()) || r.Path != path {
			t.Errorf("it is not sound: %+v, %v", r, err)
		}
		if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: 1, At: noon}); kindOf(err) != KindReadOnly {
			t.Errorf("a check was added: %v", err)
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
		if _, err := Open(t.Context(), path, Options{}); kindOf(err) != KindReadOnly {
			t.Errorf("for writing: got %v (%s)", err, kindOf(err))
		}
	}
	for _, u := range unwritables {
		for _, how := range []string{"mount", "all but reading forbidden", "folder forbidden"} {
			if how == "folder forbidden" && strings.Contains(u.name, "an index") {
				continue // all files that SQLite wants are there, so it can be written
			}
			t.Run(u.name+", "+how, func(t *testing.T) {
				dir := t.TempDir()
				u.make(t, dir)
				was := map[string]string{}
				for _, name := range files(t, dir) {
					was[name] = sum(t, filepath.Join(dir, name))
				}
				path, temp := filepath.Join(dir, "book.db"), t.TempDir()
				if err := os.Chmod(temp, 0o777); err != nil {
					t.Fatal(err)
				}
				t.Setenv("TMPDIR", temp)
				if how == "mount" {
					readOnlyPlace(t, dir)
					reads(t, path)
				} else {
					mode := map[bool]os.FileMode{true: 0o666, false: 0o444}[how == "folder forbidden"]
					forbid(t, dir, mode)
					asNobody(t, func() { reads(t, path) })
				}
				for _, name := range files(t, dir) {
					if sum(t, filepath.Join(dir, name)) != was[name] {
						t.Errorf("%s is changed or new", name)
					}
				}
				if left := files(t, temp); len(left) > 0 {
					t.Errorf("left behind: %v", left)
				}
			})
		}
	}
}

// forbid takes from all but root the right to write in a folder, and gives its files a mode.
func forbid(t *testing.T, dir string, mode os.FileMode) {
	t.Helper()
	for _, name := range files(t, dir) {
		if err := os.Chmod(filepath.Join(dir, name), mode); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(os.Chmod(dir, 0o555), os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Error(err)
		}
	})
}

// Another user's book is read while its owner records in it: what is acknowledged is
// there.
func TestReadBesideWriter(t *testing.T) {
	b, c, _ := filled(t)
	dir := filepath.Dir(b.path)
	for _, more := range []string{"", "-wal", "-shm"} {
		if err := os.Chmod(b.path+more, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(os.Chmod(dir, 0o755), os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
		t.Fatal(err)
	}
	if os.Geteuid() != 0 {
		t.Skip("needs root, to read as somebody else")
	}
	asNobody(t, func() {
		r, err := Open(t.Context(), b.path, Options{Reading: true})
		if err != nil {
			t.Error(err)
			return
		}
		for n := 2; n < 5; n++ {
			rec, err := r.Record(t.Context(), c.ID)
			if err != nil || len(rec.Checks) != n-1 {
				t.Errorf("%d checks, %v; want %d", len(rec.Checks), err, n-1)
			}
			if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon.Add(time.Duration(n) * time.Hour)}); err != nil {
				t.Error(err)
			}
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	})
}

// A book that was taken to be still, and wasn't, is told.
func TestReadNotStill(t *testing.T) {
	path := closedBook(t)
	still, err := Open(t.Context(), path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	w := open(t, path, Options{})
	if _, err := w.AddCheck(t.Context(), sessions.Check{ClockID: 1, At: noon}); err != nil {
		t.Fatal(err)
	}
	if err := still.Close(); kindOf(err) != KindBusy || !strings.Contains(err.Error(), "another program wrote to it while it was read") {
		t.Errorf("read while another wrote: got %v", err)
	}
}

// A backup of any layout is restored, whatever lies beside it, on a read-only disk too. No
// file of SQLite's is left beside it, nor beside the book, and the backup stays as it is.
func TestRestoreLeavesNothing(t *testing.T) {
	for _, u := range unwritables {
		for _, mounted := range []bool{false, true} {
			dir := t.TempDir()
			u.make(t, dir)
			before := files(t, dir)
			from, to := filepath.Join(dir, "book.db"), filepath.Join(t.TempDir(), "restored.db")
			was := sum(t, from)
			if mounted {
				readOnlyPlace(t, dir)
			}
			if _, err := Restore(t.Context(), from, to); err != nil {
				t.Fatalf("%s: %v", u.name, err)
			}
			if got := files(t, dir); mounted && !slices.Equal(got, before) || !mounted && !slices.Equal(got, []string{"book.db"}) && !slices.Equal(got, before) {
				t.Errorf("%s: beside the backup lie %v", u.name, got)
			}
			if now := sum(t, from); now != was && !slices.Contains(before, "book.db-wal") {
				t.Errorf("%s: the backup is changed", u.name)
			}
			if got := files(t, filepath.Dir(to)); !slices.Equal(got, []string{"restored.db"}) {
				t.Errorf("%s: beside the book lie %v", u.name, got)
			}
			b := open(t, to, Options{ReadOnly: true})
			if r, err := b.Record(t.Context(), 1); err != nil || len(r.Checks) != 1 {
				t.Errorf("%s: %d checks, %v; want 1", u.name, len(r.Checks), err)
			}
		}
	}
}
