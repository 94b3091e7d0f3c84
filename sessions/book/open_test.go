package book

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3/driver"

	"evenbeat/sessions"
)

// closedBook returns the path of a book with something in it, closed.
func closedBook(t *testing.T) string {
	t.Helper()
	b, _, ses := filled(t)
	if err := b.AppendBeats(t.Context(), ses, sensor(8, 5000)); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return b.path
}

func edit(t *testing.T, path string, change func([]byte) []byte) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, change(data), 0o600); err != nil {
		t.Fatal(err)
	}
}

// reseal gives every page of a book the checksum of what is in it, by the algorithm of
// https://sqlite.org/cksumvfs.html: what was changed is then as if it had been written.
func reseal(b []byte) []byte {
	for page := range slices.Chunk(b, 4096) {
		var s1, s2 uint32
		for at := 0; at < 4088; at += 8 {
			s1 += binary.LittleEndian.Uint32(page[at:]) + s2
			s2 += binary.LittleEndian.Uint32(page[at+4:]) + s1
		}
		binary.LittleEndian.PutUint32(page[4088:], s1)
		binary.LittleEndian.PutUint32(page[4092:], s2)
	}
	return b
}

func sum(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return fmt.Sprintf("%d bytes, %x", len(data), sha256.Sum256(data))
}

// What isn't a sound book of ours is refused with its own remedy, and not changed.
func TestOpenRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(t *testing.T, path string)
		kind Kind
		text string // with PATH for the path
		mine bool   // the caller's fault
	}{
		{"no file", func(*testing.T, string) {}, KindMissing, "book PATH: no such file: add a clock to start a book, or name another with --book", true},
		{"a text", func(t *testing.T, p string) { writeFile(t, p, "Dear clockmaker, "+strings.Repeat("tick tock ", 50)) }, KindNotABook,
			"PATH is no book: name another with --book", true},
		{"empty", func(t *testing.T, p string) { writeFile(t, p, "") }, KindNotABook, "PATH is no book: it is empty: remove it, or name another with --book", true},
		{"a folder", func(t *testing.T, p string) {
			if err := os.Mkdir(p, 0o700); err != nil {
				t.Fatal(err)
			}
		}, KindNotABook, "PATH is no book: it is a folder or a device: name another with --book", true},
		{"another program's database", func(t *testing.T, p string) {
			db := raw(t, p)
			if _, err := db.Exec("PRAGMA journal_mode = wal; CREATE TABLE clocks (id INTEGER); PRAGMA application_id = 7; PRAGMA user_version = 1"); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		}, KindNotABook, "PATH is no book: it is another program's database: name another with --book", true},
		{"a newer version", func(t *testing.T, p string) {
			move(t, closedBook(t), p)
			db := raw(t, p)
			if _, err := db.Exec("PRAGMA user_version = 10"); err != nil {
				t.Fatal(err)
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
		}, KindNewer, "book PATH is from a newer version: its layout is 10, this program knows up to 9: use the newer program; the book was not touched", true},
		{"first bytes gone", func(t *testing.T, p string) {
			move(t, closedBook(t), p)
			edit(t, p, func(b []byte) []byte { return append(make([]byte, 16), b[16:]...) })
		}, KindDamaged, "book PATH: its first bytes are damaged: restore a backup with book restore, or save what is whole with book salvage", false},
		{"first page shot", func(t *testing.T, p string) {
			move(t, closedBook(t), p)
			edit(t, p, func(b []byte) []byte {
				return append(append(b[:100:100], bytes.Repeat([]byte{0xa5}, 3996)...), b[4096:]...)
			})
		}, KindDamaged, "book PATH: opening: a page of the file is damaged, or another program wrote to it: restore a backup with book restore, or save what is whole with book salvage", false},
		{"cut short", func(t *testing.T, p string) {
			move(t, closedBook(t), p)
			edit(t, p, func(b []byte) []byte { return b[:len(b)/2] })
		}, KindDamaged, "book PATH: opening: the file is damaged: restore a backup with book restore, or save what is whole with book salvage", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "it?is #1.db")
			c.make(t, path)
			st, _ := os.Stat(path)
			before := ""
			if st == nil || st.Mode().IsRegular() {
				before = sum(t, path)
			}
			b, err := Open(t.Context(), path, Options{Create: c.kind != KindMissing})
			if err == nil {
				b.Close()
				t.Fatal("opened")
			}
			if got, want := err.Error(), strings.ReplaceAll(c.text, "PATH", path); got != want || kindOf(err) != c.kind {
				t.Errorf("got  %s (%s)\nwant %s (%s)", got, kindOf(err), want, c.kind)
			}
			if e, ok := err.(*Error); !ok || e.CallersFault() != c.mine {
				t.Errorf("%T: caller's fault not told as %v", err, c.mine)
			}
			if before != "" && sum(t, path) != before {
				t.Errorf("changed: %s, before %s", sum(t, path), before)
			}
			left, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*-journal"))
			if err != nil || len(left) > 0 {
				t.Errorf("left behind: %v %v", left, err)
			}
		})
	}
}

func writeFile(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func move(t *testing.T, from, to string) {
	t.Helper()
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}

// A newer version that was committed but still lies in the write-ahead log, as
// after a crash, is seen too, and the log is left to the newer program.
func TestOpenNewerInLog(t *testing.T) {
	path := closedBook(t)
	db, err := driver.Open(uri(path, ""))
	if err != nil {
		t.Fatal(err)
	}
	conn, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := conn.ExecContext(t.Context(), "PRAGMA user_version = 10"); err != nil {
		t.Fatal(err)
	}
	// A copy of both files while the log is full is what a crash leaves.
	crashed := filepath.Join(t.TempDir(), "book.db")
	for _, more := range []string{"", "-wal"} {
		data, err := os.ReadFile(path + more)
		if err != nil {
			t.Fatal(err)
		}
		writeFile(t, crashed+more, string(data))
	}
	conn.Close()
	db.Close()
	book, log := sum(t, crashed), sum(t, crashed+"-wal")
	if _, err := Open(t.Context(), crashed, Options{}); kindOf(err) != KindNewer {
		t.Fatalf("got %v, want it to be too new", err)
	}
	if sum(t, crashed) != book || sum(t, crashed+"-wal") != log {
		t.Error("the refused book was changed")
	}
}

// Damage inside is found by Check, whose report names it; reading says so too.
func TestDamageInside(t *testing.T) {
	path := closedBook(t)
	edit(t, path, func(b []byte) []byte {
		n := bytes.Index(b, []byte{0x88, 0x27}) - 3 // a chunk of 5000 beats
		if n < 0 || b[n] != chunkLayout {
			t.Fatal("no chunk found in the file")
		}
		b[n+40] ^= 1
		return b
	})
	b := open(t, path, Options{})
	r, err := b.Check(t.Context())
	if err != nil || len(r.Problems) == 0 || !strings.Contains(r.Problems[0], "beat_chunks: page ") {
		t.Errorf("found %q, %v", r.Problems, err)
	}

	// Turned before the page was written, its checksum tells nothing, and the chunk's
	// own does.
	edit(t, path, reseal)
	b = open(t, path, Options{})
	r, err = b.Check(t.Context())
	if err != nil || len(r.Problems) != 1 || r.Problems[0] != "session 1, beats from 5: chunk of beats fails its checksum" {
		t.Errorf("found %q, %v", r.Problems, err)
	}
	heard, failed := 0, error(nil)
	for beats, err := range b.Beats(t.Context(), 1) {
		heard, failed = heard+len(beats), err
	}
	if heard != 5 || kindOf(failed) != KindDamaged {
		t.Errorf("heard %d beats, then %v; want the 5 before the damage", heard, failed)
	}
	if err := b.CompactBeats(t.Context(), 1); kindOf(err) != KindDamaged {
		t.Errorf("compacting: got %v", err)
	}

	path = closedBook(t)
	var page int // not one of the schema's, which opening reads
	db := raw(t, path)
	err = db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'beat_chunks_by_beat'").Scan(&page)
	if err := errors.Join(err, db.Close()); err != nil {
		t.Fatal(err)
	}
	edit(t, path, func(b []byte) []byte {
		n := (page - 1) * 4096
		clear(b[n : n+4096])
		return b
	})
	if r, err := open(t, path, Options{}).Check(t.Context()); err != nil || r.OK() {
		t.Errorf("a page wiped: found %q, %v", r.Problems, err)
	}
}

// A page in another's place has a sound checksum. An index that lost its chunks so is told
// of, and not taken for a session without beats.
func TestChunksWithoutTheirIndex(t *testing.T) {
	path := closedBook(t)
	db := raw(t, path)
	pageOf := func(index string) (page int) {
		if err := db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = ?", index).Scan(&page); err != nil {
			t.Fatal(err)
		}
		return page
	}
	full, empty := pageOf("beat_chunks_by_beat"), pageOf("withdrawals_by_row")
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	edit(t, path, func(b []byte) []byte {
		page := func(n int) []byte { return b[(n-1)*4096 : n*4096] }
		was := bytes.Clone(page(full))
		copy(page(full), page(empty))
		copy(page(empty), was)
		return b
	})
	var failed error
	for _, err := range open(t, path, Options{}).Beats(t.Context(), 1) {
		failed = err
	}
	if kindOf(failed) != KindDamaged || !strings.Contains(failed.Error(), "of 3 chunks of beats of session 1 its index leads to 0") {
		t.Errorf("got %v", failed)
	}
}

// While one program writes, another waits; when it doesn't let go, that is told.
func TestBusy(t *testing.T) {
	b, c, _ := filled(t)
	db := raw(t, b.path)
	tx, err := db.Begin()
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	if _, err := b.db.Exec("PRAGMA busy_timeout = 0"); err != nil { // of the one connection in use so far
		t.Fatal(err)
	}
	_, err = b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon})
	if want := "book " + b.path + ": recording a check: another program holds the book: close it there, or wait and try again"; kindOf(err) != KindBusy || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	if _, err := b.Record(t.Context(), c.ID); err != nil {
		t.Errorf("reading meanwhile: %v", err)
	}
}

// Read-only means it: the file stays as it is, and no write is accepted.
func TestReadOnly(t *testing.T) {
	path := closedBook(t)
	before := sum(t, path)
	b := open(t, path, Options{ReadOnly: true, Create: true})
	if _, err := b.AddClock(t.Context(), sessions.Clock{Name: "x"}); kindOf(err) != KindReadOnly {
		t.Errorf("got %v", err)
	}
	if c, err := b.Clocks(t.Context()); err != nil || len(c) != 1 {
		t.Errorf("%v, %v", c, err)
	}
	if sum(t, path) != before {
		t.Error("changed")
	}
	if _, err := Open(t.Context(), path+"x", Options{ReadOnly: true, Create: true}); kindOf(err) != KindMissing {
		t.Errorf("a book to read that isn't there: got %v", err)
	}
}

// A folder that can't be made is told, with the folder's own trouble.
func TestCreateNowhere(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	writeFile(t, file, "x")
	_, err := Open(t.Context(), filepath.Join(file, "book.db"), Options{Create: true})
	if kindOf(err) != KindFailed || !strings.Contains(err.Error(), "not a directory") {
		t.Errorf("got %v (%s)", err, kindOf(err))
	}
}

// The header says what SQLite's file format has there.
func TestHeader(t *testing.T) {
	path := closedBook(t)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(data[68:72]) != "EVBT" || int(binary.BigEndian.Uint32(data[60:])) != len(migrations()) {
		t.Errorf("application %q, version %x", data[68:72], data[60:64])
	}
	var mode, sync string
	b := open(t, path, Options{Now: func() time.Time { return noon }})
	if err := b.db.QueryRow("SELECT journal_mode, synchronous FROM pragma_journal_mode, pragma_synchronous").Scan(&mode, &sync); err != nil || mode != "wal" || sync != "2" {
		t.Errorf("journal %s, synchronous %s, %v; want wal, 2", mode, sync, err)
	}
	var on bool
	if err := b.db.QueryRow("PRAGMA foreign_keys").Scan(&on); err != nil || !on {
		t.Errorf("foreign keys %v, %v", on, err)
	}
}

// Names are written as SQLite takes them, with a drive or a server too: here those are a
// folder with a colon in its name, and a second slash that counts for nothing.
func TestNameForms(t *testing.T) {
	path := closedBook(t)
	t.Chdir(t.TempDir())
	if err := os.Mkdir("C:", 0o700); err != nil {
		t.Skip("no folder can have such a name here: ", err)
	}
	move(t, path, "C:/it?is #1 %41.db")
	for _, name := range []string{"C:/it?is #1 %41.db", "/" + filepath.Join(t.TempDir(), "book.db")} {
		if name[0] == '/' {
			move(t, "C:/it?is #1 %41.db", name)
		}
		db, err := driver.Open(uri(name, "mode=ro&immutable=1"))
		if err != nil {
			t.Fatal(err)
		}
		var n int
		if err := db.QueryRow("SELECT count(*) FROM clocks").Scan(&n); err != nil || n != 1 {
			t.Errorf("%s: %d clocks, %v; want 1", name, n, err)
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	}
	for name, want := range map[string]string{"C:/Users/a b/book.db": "file:C:/Users/a%20b/book.db?vfs=", "//bench/c/book.db": "file:////bench/c/book.db?vfs=",
		"/home/a/book.db": "file:/home/a/book.db?vfs="} {
		if got := uri(name, ""); !strings.HasPrefix(strings.Replace(got, "?&", "?", 1), want) {
			t.Errorf("%s: got %s, want %s…", name, got, want)
		}
	}
}
