package book

import (
	"bytes"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book/pages"
)

// salvaged salvages the bytes of a book, and looks whether that left them and their
// folder as they were.
func salvaged(t *testing.T, data []byte) (Salvaged, string, error) {
	t.Helper()
	dir := t.TempDir()
	from, to := filepath.Join(dir, "from", "hurt.db"), filepath.Join(dir, "saved.db")
	if err := os.Mkdir(filepath.Dir(from), 0o700); err != nil {
		t.Fatal(err)
	}
	writeFile(t, from, string(data))
	r, err := Salvage(t.Context(), from, to)
	if !bytes.Equal(readFile(t, from), data) {
		t.Error("salvaging changed the damaged book")
	}
	for folder, want := range map[string]int{filepath.Dir(from): 1, dir: 2} {
		if folder == dir && err != nil {
			want = 1
		}
		if files, _ := os.ReadDir(folder); len(files) != want {
			t.Errorf("%d files in %s, want %d: %v", len(files), folder, want, files)
		}
	}
	return r, to, err
}

// rowsOf are the rows of all tables of a book as text, by table and number. Beats are
// told one by one, for chunks may be others.
func rowsOf(t *testing.T, path string) map[string]map[int64]string {
	t.Helper()
	db := raw(t, path)
	all := map[string]map[int64]string{}
	names, err := collect(t.Context(), db, func(rows *sql.Rows) (n string, err error) { return n, rows.Scan(&n) },
		"SELECT name FROM sqlite_schema WHERE type = 'table'")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		all[name] = map[int64]string{}
		rows, err := db.Query("SELECT rowid, * FROM " + name)
		if err != nil {
			t.Fatal(err)
		}
		columns, _ := rows.Columns()
		for rows.Next() {
			row, to := make([]any, len(columns)), make([]any, len(columns))
			for i := range row {
				to[i] = &row[i]
			}
			if err := rows.Scan(to...); err != nil {
				t.Fatal(err)
			}
			all[name][row[0].(int64)] = fmt.Sprintf("%#v", row[1:])
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// A sound book of each layout is salvaged whole.
func TestSalvageSound(t *testing.T) {
	for layout := 1; layout <= len(migrations()); layout++ {
		r, to, err := salvaged(t, readFile(t, bookOfLayout(layout)))
		if err != nil || !r.OK() || r.Layout != layout || r.Checksums != (layout >= checksummed) {
			t.Fatalf("layout %d: %+v, %v", layout, r, err)
		}
		b := open(t, to, Options{})
		sound(t, b)
		holdsLayout(t, b, layout)
	}
	whole := bigBook(t)
	r, to, err := salvaged(t, readFile(t, whole))
	if err != nil || !r.OK() || !reflect.DeepEqual(rowsOf(t, to), rowsOf(t, whole)) {
		t.Errorf("of a sound book: %v, %v", r.Lost, err)
	}
}

// Each row and each beat that a salvaged book gives is one of the whole book's, or is
// told to stand for a lost one. What is missing is told.
func TestSalvageDamaged(t *testing.T) {
	whole := bigBook(t)
	data, want := readFile(t, whole), rowsOf(t, whole)
	beats := map[int64][]sessions.Beat{}
	b := open(t, whole, Options{ReadOnly: true})
	for id := range int64(2) {
		beats[id+1], _ = beatsOf(t, b, id+1)
	}
	n := 200
	if testing.Short() {
		n = 16
	}
	saved, lost := 0, 0
	for seed := range n {
		way := waysOfDamage[seed%len(waysOfDamage)]
		r, to, err := salvaged(t, way.hurt(rand.New(rand.NewPCG(uint64(seed), 6)), bytes.Clone(data)))
		if err != nil {
			if k := kindOf(err); k != KindNotABook && k != KindNewer {
				t.Errorf("seed %d, %s: %v", seed, way.name, err)
			}
			continue
		}
		got := rowsOf(t, to)
		told := strings.Join(r.Lost, "\n")
		for table, rows := range want {
			if table == "beat_chunks" {
				continue
			}
			for id, row := range got[table] {
				standsIn := map[string]string{"clocks": "clocks, row %d: lost; the time", "sessions": "sessions, row %d: lost; its rows", "clock_versions": "clock %d: its description is lost"}[table]
				if row != rows[id] && (standsIn == "" || !strings.Contains(told, fmt.Sprintf(standsIn, id))) {
					t.Errorf("seed %d, %s: %s, row %d: got %s, want %s", seed, way.name, table, id, row, rows[id])
				}
				saved++
			}
			if missing := len(rows) - len(got[table]); missing > 0 {
				lost += missing
				if !strings.Contains(told, table) {
					t.Errorf("seed %d, %s: %d rows of %s are gone without a word: %s", seed, way.name, missing, table, told)
				}
			}
		}
		held := open(t, to, Options{ReadOnly: true})
		for id, all := range beats {
			some, _ := beatsOf(t, held, id)
			for i := range some {
				at, ok := slices.BinarySearchFunc(all, some[i].HostMono, func(b sessions.Beat, mono int64) int { return int(b.HostMono - mono) })
				if ok {
					some[i].Break = all[at].Break
				}
				if !ok || some[i] != all[at] {
					t.Fatalf("seed %d, %s: beat %d of session %d is none of the whole book's", seed, way.name, i, id)
				}
			}
			if len(some) < len(all) && !strings.Contains(told, fmt.Sprintf("of session %d", id)) && !strings.Contains(told, "beat_chunks") {
				t.Errorf("seed %d, %s: beats of session %d are gone without a word: %s", seed, way.name, id, told)
			}
		}
		if err := held.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d books: %d rows saved, %d lost", n, saved, lost)
}

// A damaged page takes with it the rows that lie on it, and no others.
func TestSalvagePages(t *testing.T) {
	whole := bigBook(t)
	data, want := readFile(t, whole), rowsOf(t, whole)
	f, err := pages.Open(bytes.NewReader(data), int64(len(data)), nil)
	if err != nil {
		t.Fatal(err)
	}
	s := &salvage{f: f, report: &Salvaged{}}
	b := open(t, whole, Options{})
	if err := b.write(t.Context(), "looking", func(tx *sql.Tx) error {
		s.tx = tx
		return s.survey(t.Context())
	}); err != nil {
		t.Fatal(err)
	}
	for _, table := range s.tables {
		if len(want[table.name]) <= 2 {
			continue // the indices have them all, or others take their place
		}
		for _, l := range table.leaves {
			if !l.claimed {
				continue
			}
			p, _ := f.Page(l.page)
			hurt := bytes.Clone(data)
			if l.page%2 == 0 {
				hurt[int(l.page)*4096-30] ^= 4
			} else {
				clear(hurt[(l.page-1)*4096 : l.page*4096])
			}
			r, to, err := salvaged(t, hurt)
			if err != nil {
				t.Fatal(err)
			}
			for name, rows := range rowsOf(t, to) {
				gone := 0
				if name == table.name {
					gone = len(p.Cells)
				}
				if missing := len(want[name]) - len(rows); missing != gone {
					t.Errorf("page %d of %s: %d rows of %s are missing, want %d: %v", l.page, table.name, missing, name, gone, r.Lost)
				}
			}
			for _, sum := range r.Tables {
				if sum.Table == table.name && (sum.Lost != int64(len(p.Cells)) || sum.Unknown) {
					t.Errorf("page %d of %s: told %+v, want %d lost", l.page, table.name, sum, len(p.Cells))
				}
			}
		}
	}
}

// gapBook is a closed book of one timing session, whose beats are in three chunks of
// several pages each.
func gapBook(t *testing.T) (string, []sessions.Beat) {
	t.Helper()
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	ses := startSession(t, b, c.ID, sessions.SessionTime)
	for part := range slices.Chunk(sensor(3, 9000), 3000) {
		if err := b.AppendBeats(t.Context(), ses, part); err != nil {
			t.Fatal(err)
		}
	}
	all, _ := beatsOf(t, b, ses)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return b.path, all
}

// overflowPages are the first pages on which the cells of a table go on.
func overflowPages(t *testing.T, path, table string) (first []uint32) {
	t.Helper()
	data := readFile(t, path)
	f, err := pages.Open(bytes.NewReader(data), int64(len(data)), nil)
	if err != nil {
		t.Fatal(err)
	}
	f.Walk(uint32(rootOf(t, path, table)), pages.TableInner, func(_ uint32, p *pages.Page) {
		for _, c := range p.Cells {
			first = append(first, c.More)
		}
	})
	return first
}

func rootOf(t *testing.T, path, table string) (root int64) {
	t.Helper()
	if err := raw(t, path).QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = ?", table).Scan(&root); err != nil {
		t.Fatal(err)
	}
	return root
}

// Where a chunk is lost, those after it move up behind a break.
func TestSalvageGap(t *testing.T) {
	path, all := gapBook(t)
	hurt := readFile(t, path)
	hurt[(overflowPages(t, path, "beat_chunks")[1]-1)*pageSize+77] ^= 1
	r, to, err := salvaged(t, hurt)
	if err != nil {
		t.Fatal(err)
	}
	want := slices.Concat(all[:3000], all[6000:])
	want[3000].Break = true
	b := open(t, to, Options{})
	sound(t, b)
	if got, _ := beatsOf(t, b, 1); !slices.Equal(got, want) {
		t.Errorf("%d beats, want those of the first and the last chunk: %v", len(got), r.Lost)
	}
	told := strings.Join(r.Lost, "\n")
	for _, want := range []string{"session 1: beats 3000 to 5999 are lost; those behind are numbered on from 3000, after a break", "beat_chunks, row 2: lost; beats 3000 to 5999 of session 1"} {
		if !strings.Contains(told, want) {
			t.Errorf("%q is not told: %s", want, told)
		}
	}
}

// The beats of a lost session are kept in one of the same number, clock and beginning, as
// the index tells them, or the beats of a book with one clock.
func TestSalvageLostSession(t *testing.T) {
	path, all := gapBook(t)
	hurt := readFile(t, path)
	for _, c := range []struct {
		page string
		from time.Time
	}{{"sessions", noon}, {"sessions_by_clock", time.Unix(0, all[0].HostUTC)}} {
		clear(hurt[(rootOf(t, path, c.page)-1)*pageSize:][:pageSize])
		r, to, err := salvaged(t, hurt)
		if err != nil {
			t.Fatal(err)
		}
		b := open(t, to, Options{})
		sound(t, b)
		got, err := b.Session(t.Context(), 1)
		if err != nil || got.Kind != sessions.SessionTime || got.ClockID != 1 || !got.Started.Equal(c.from) || got.Timing.CountRate != 0 {
			t.Errorf("%s: got %+v, %v: %v", c.page, got, err, r.Lost)
		}
		if beats, _ := beatsOf(t, b, 1); !slices.Equal(beats, all) {
			t.Errorf("%s: %d beats, want all", c.page, len(beats))
		}
		if r.OK() || !strings.HasPrefix(r.Lost[0], "sessions, row 1: lost; its rows are kept in a session of that number, of clock 1 from ") {
			t.Errorf("%s: told %v", c.page, r.Lost)
		}
	}
}

// What lies in the write-ahead log alone is saved too, but for the pages that are
// damaged in it.
func TestSalvageLog(t *testing.T) {
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	b.db.SetMaxOpenConns(1)
	if _, err := b.db.Exec("PRAGMA wal_autocheckpoint = 0"); err != nil {
		t.Fatal(err)
	}
	for i := range 50 {
		if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon.Add(time.Duration(i) * time.Hour), ErrorS: 1, U: 1}); err != nil {
			t.Fatal(err)
		}
	}
	data, log := readFile(t, b.path), readFile(t, b.path+"-wal")
	if len(log) < 50*pageSize {
		t.Fatal("the log holds nothing to salvage")
	}
	for _, turn := range []int{0, len(log) / 2} {
		dir := t.TempDir()
		from, to := filepath.Join(dir, "hurt.db"), filepath.Join(dir, "saved.db")
		hurt := bytes.Clone(log)
		if turn > 0 {
			hurt[turn] ^= 8
		}
		writeFile(t, from, string(data))
		writeFile(t, from+"-wal", string(hurt))
		r, err := Salvage(t.Context(), from, to)
		if err != nil || r.OK() != (turn == 0) {
			t.Fatalf("turned %d: %v, %v", turn, r.Lost, err)
		}
		if got := rowsOf(t, to); len(got["checks"]) != 50 || len(got["clocks"]) != 1 {
			t.Errorf("turned %d: %d checks of %d clocks, want 50 of 1", turn, len(got["checks"]), len(got["clocks"]))
		}
		if !bytes.Equal(readFile(t, from), data) || !bytes.Equal(readFile(t, from+"-wal"), hurt) || exists(from+"-shm") {
			t.Error("salvaging changed the damaged book or its log")
		}
	}
}

// The log of a book that is reached by a link lies beside the file.
func TestSalvageLink(t *testing.T) {
	b, _, _ := filled(t)
	dir := t.TempDir()
	link := filepath.Join(dir, "link.db")
	if err := os.Symlink(b.path, link); err != nil {
		t.Skip(err) // Windows asks for a privilege
	}
	r, err := Salvage(t.Context(), link, filepath.Join(dir, "saved.db"))
	if err != nil || !r.OK() || !reflect.DeepEqual(rowsOf(t, r.To), rowsOf(t, b.path)) {
		t.Errorf("%v, %v", r.Lost, err)
	}
	again := open(t, link, Options{})
	addClock(t, again, "Barn")
	if exists(link+"-wal") || exists(link+tallySuffix) {
		t.Error("there are files beside the link")
	}
}

// A damaged book of any layout is salvaged into a sound one, or refused as no book.
// Without checksums a turned bit can go unseen, so no more is asked there.
func TestSalvageOldDamaged(t *testing.T) {
	n := 12
	if testing.Short() {
		n = 4
	}
	for layout := 1; layout <= len(migrations()); layout++ {
		data := readFile(t, bookOfLayout(layout))
		for seed := range n {
			way := waysOfDamage[seed%len(waysOfDamage)]
			hurt := way.hurt(rand.New(rand.NewPCG(uint64(seed), uint64(layout))), bytes.Clone(data))
			_, to, err := salvaged(t, hurt)
			if err != nil {
				if k := kindOf(err); k != KindNotABook && k != KindNewer {
					t.Errorf("layout %d, seed %d, %s: %v", layout, seed, way.name, err)
				}
				continue
			}
			sound(t, open(t, to, Options{}))
		}
	}
}

// Some small chunks that were joined lie on in pages that nothing uses any more. They
// are no second copy of their beats, and where the large one is lost, they are found.
func TestSalvageJoined(t *testing.T) {
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	ses := startSession(t, b, c.ID, sessions.SessionTime)
	for part := range slices.Chunk(sensor(3, 3000), 100) {
		if err := b.AppendBeats(t.Context(), ses, part); err != nil {
			t.Fatal(err)
		}
	}
	all, _ := beatsOf(t, b, ses)
	if err := b.CompactBeats(t.Context(), ses); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	hurt := readFile(t, b.path)
	_, to, err := salvaged(t, hurt)
	if err != nil {
		t.Fatal(err)
	}
	if got := rowsOf(t, to); len(got["beat_chunks"]) != 1 {
		t.Errorf("of a sound book come %d chunks, want the large one", len(got["beat_chunks"]))
	}
	hurt[(overflowPages(t, b.path, "beat_chunks")[0]-1)*pageSize+77] ^= 1
	r, to, err := salvaged(t, hurt)
	if err != nil {
		t.Fatal(err)
	}
	saved := open(t, to, Options{})
	sound(t, saved)
	got, _ := beatsOf(t, saved, ses)
	if len(got) == 0 {
		t.Fatalf("no beats: %v", r.Lost)
	}
	t.Logf("%d of %d beats: %v", len(got), len(all), r.Lost)
	for _, beat := range got {
		beat.Break = false
		if !slices.Contains(all, beat) {
			t.Fatalf("%+v was never recorded", beat)
		}
	}
}
