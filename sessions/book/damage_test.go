package book

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"evenbeat/sessions"
)

// bigBook is the path of a closed book of two clocks, with so many rows that every
// table and index takes several pages.
func bigBook(t *testing.T) string {
	t.Helper()
	ctx := t.Context()
	b := newBook(t)
	for _, name := range []string{"Hall clock", "Landing clock"} {
		c := addClock(t, b, name)
		ses := startSession(t, b, c.ID, sessions.SessionTime)
		var readings []sessions.Reading
		var checks []sessions.Check
		var events []sessions.Event
		var air []sessions.Air
		var told []sessions.Particular
		for i := range 200 {
			at := noon.Add(time.Duration(i) * time.Hour)
			readings = append(readings, sessions.Reading{SessionID: ses, ClockID: c.ID, At: at, Part: "barrel", Dimension: "bore", Kind: sessions.Inside, Value: 0.06 + float64(i)*1e-6, State: sessions.Kept, Text: "as sent"})
			checks = append(checks, sessions.Check{ClockID: c.ID, At: at, ErrorS: float64(i) / 7, U: 0.3})
			events = append(events, sessions.Event{ClockID: c.ID, At: at, Kind: sessions.EventWound, Text: "to the stop"})
			air = append(air, sessions.Air{ClockID: c.ID, At: at, TemperatureC: 20 + float64(i)/100, HasTemperature: true})
			told = append(told, sessions.Particular{ClockID: c.ID, At: at, Name: sessions.Complaint, Value: "it stops at night"})
		}
		_, err := b.Import(ctx, Incoming{Readings: readings, Checks: checks, Events: events, Air: air, Particulars: told})
		for _, err := range []error{err,
			b.AppendBeats(ctx, ses, sensor(uint64(c.ID), 12000)), b.AppendReferences(ctx, ses, references(noon, 300)), b.EndSession(ctx, ses, noon.Add(time.Hour))} {
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return b.path
}

// contents is what a book answers, part by part; a part that it refuses is an error.
func contents(t *testing.T, path string) map[string]any {
	t.Helper()
	ctx := t.Context()
	all := map[string]any{}
	answer := func(part string, v any, err error) {
		if err == nil {
			all[part] = v
			return
		}
		if k := kindOf(err); k != KindDamaged && k != KindNotABook && k != KindNewer {
			t.Errorf("%s: %v (%s), want it called damaged", part, err, k)
		}
		all[part] = err
	}
	b, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		answer("book", nil, err)
		return all
	}
	defer b.Close()
	if err := b.Lost(); err != nil {
		answer("lost", nil, err)
	}
	clocks, err := b.Clocks(ctx)
	answer("clocks", clocks, err)
	for _, c := range clocks {
		for _, p := range []Part{Sessions, Readings, Checks, Events, Air, Particulars} {
			r, err := b.Record(ctx, c.ID, p)
			of := map[Part]any{Sessions: r.Sessions, Readings: r.Readings, Checks: r.Checks, Events: r.Events, Air: r.Air, Particulars: r.Particulars}
			answer(fmt.Sprint(p, c.ID), of[p], err)
		}
		told, err := b.References(ctx, c.ID)
		answer(fmt.Sprint("references", c.ID), told, err)
		var beats []sessions.Beat
		err = nil
		for some, e := range b.Beats(ctx, c.ID) {
			beats, err = append(beats, some...), e
		}
		answer(fmt.Sprint("beats", c.ID), beats, err)
	}
	return all
}

const pageSize = 4096

// waysOfDamage are what happens to files.
var waysOfDamage = []struct {
	name string
	hurt func(rng *rand.Rand, b []byte) []byte
}{
	{"a bit turned", func(rng *rand.Rand, b []byte) []byte {
		b[rng.IntN(len(b))] ^= 1 << rng.IntN(8)
		return b
	}},
	{"a page zeroed", func(rng *rand.Rand, b []byte) []byte {
		n := rng.IntN(len(b)/pageSize) * pageSize
		clear(b[n : n+pageSize])
		return b
	}},
	{"two pages swapped", func(rng *rand.Rand, b []byte) []byte {
		n, m := (1+rng.IntN(len(b)/pageSize-1))*pageSize, (1+rng.IntN(len(b)/pageSize-1))*pageSize
		one := bytes.Clone(b[n : n+pageSize])
		copy(b[n:n+pageSize], b[m:m+pageSize])
		copy(b[m:m+pageSize], one)
		return b
	}},
	{"cut short", func(rng *rand.Rand, b []byte) []byte { return b[:rng.IntN(len(b))] }},
}

// A damaged book answers as the whole one does, or says that it is damaged. Nothing that
// it says is otherwise, and nothing is made worse by looking.
func TestDamagedNeverLies(t *testing.T) {
	whole := bigBook(t)
	want := contents(t, whole)
	data := readFile(t, whole)
	n := 500
	if testing.Short() {
		n = 24
	}
	said := 0
	for seed := range n {
		way := waysOfDamage[seed%len(waysOfDamage)]
		path := filepath.Join(t.TempDir(), "book.db")
		hurt := way.hurt(rand.New(rand.NewPCG(uint64(seed), 5)), bytes.Clone(data))
		writeFile(t, path, string(hurt))
		for part, got := range contents(t, path) {
			if _, refused := got.(error); refused {
				said++
			} else if !reflect.DeepEqual(got, want[part]) {
				t.Errorf("seed %d, %s: %s differs without a word", seed, way.name, part)
			}
		}
		if !bytes.Equal(readFile(t, path), hurt) {
			t.Errorf("seed %d, %s: looking changed the file", seed, way.name)
		}
	}
	if said < n/2 {
		t.Errorf("damage was told %d times in %d books: did they get any?", said, n)
	}
	t.Logf("%d books: damage told of %d parts", n, said)
}

// loggedBook is a folder with a book whose last third lies in its log alone, as a kill
// leaves it: the first third is folded in, and the second lies in both.
func loggedBook(t *testing.T) string {
	t.Helper()
	ctx := t.Context()
	b := newBook(t)
	c := addClock(t, b, "Hall clock")
	for i := range 90 {
		at := noon.Add(time.Duration(i) * time.Hour)
		if i%30 == 0 {
			if _, err := b.db.ExecContext(ctx, fmt.Sprintf("PRAGMA wal_checkpoint(%s)", []string{"passive", "truncate", "passive"}[i/30])); err != nil {
				t.Fatal(err)
			}
		}
		ses := startSession(t, b, c.ID, sessions.SessionTime)
		_, e1 := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: c.ID, At: at, Part: "barrel", Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Kept, Text: "as sent"})
		_, e2 := b.AddCheck(ctx, sessions.Check{ClockID: c.ID, At: at, ErrorS: float64(i) / 7, U: 0.3})
		_, e3 := b.AddEvent(ctx, sessions.Event{ClockID: c.ID, At: at, Kind: sessions.EventWound, Text: "to the stop"})
		e4 := b.AppendBeats(ctx, ses, sensor(3, 40))
		e5 := b.Withdraw(ctx, ThingCheck, int64(i+1), "misread")
		if err := errors.Join(e1, e2, e3, e4, e5); err != nil {
			t.Fatal(err)
		}
	}
	left := t.TempDir()
	for _, more := range []string{"", "-wal", "-shm", tallySuffix} {
		writeFile(t, filepath.Join(left, "book.db"+more), string(readFile(t, b.path+more)))
	}
	return left
}

// waysOfLogDamage are what happens to the files that a kill leaves beside a book.
var waysOfLogDamage = []struct {
	name string
	hurt func(rng *rand.Rand, log, index []byte) (hurtLog, hurtIndex []byte)
}{
	{"a bit turned", func(rng *rand.Rand, log, index []byte) ([]byte, []byte) {
		log[rng.IntN(len(log))] ^= 1 << rng.IntN(8)
		return log, index
	}},
	{"cut short", func(rng *rand.Rand, log, index []byte) ([]byte, []byte) { return log[:rng.IntN(len(log))], index }},
	{"zeroed", func(rng *rand.Rand, log, index []byte) ([]byte, []byte) {
		n := rng.IntN(len(log) - pageSize)
		clear(log[n : n+pageSize])
		return log, index
	}},
	{"gone", func(_ *rand.Rand, _, index []byte) ([]byte, []byte) { return nil, index }},
	{"gone with its index", func(*rand.Rand, []byte, []byte) ([]byte, []byte) { return nil, nil }},
	{"its index gone", func(_ *rand.Rand, log, _ []byte) ([]byte, []byte) { return log, nil }},
	{"its index turned", func(rng *rand.Rand, log, index []byte) ([]byte, []byte) {
		index[rng.IntN(len(index))] ^= 1 << rng.IntN(8)
		return log, index
	}},
	{"frames swapped", func(rng *rand.Rand, log, index []byte) ([]byte, []byte) {
		const frame = pageSize + 24
		n, m := 32+rng.IntN(len(log)/frame)*frame, 32+rng.IntN(len(log)/frame)*frame
		one := bytes.Clone(log[n : n+frame])
		copy(log[n:n+frame], log[m:m+frame])
		copy(log[m:m+frame], one)
		return log, index
	}},
}

// A book whose log was damaged or is gone after a kill answers as the whole one does, or
// says which rows that were acknowledged are missing. The log is left as it is then, since
// salvage reads beyond what is damaged in it; nothing is added; and salvage says what is
// lost as well.
func TestDamagedLogNeverLies(t *testing.T) {
	ctx, left := t.Context(), loggedBook(t)
	data, log, index := readFile(t, filepath.Join(left, "book.db")), readFile(t, filepath.Join(left, "book.db-wal")), readFile(t, filepath.Join(left, "book.db-shm"))
	told := readFile(t, filepath.Join(left, "book.db"+tallySuffix))
	want := contents(t, filepath.Join(left, "book.db"))
	if len(want["checks1"].([]sessions.Check)) != 0 || len(want["readings1"].([]sessions.Reading)) != 90 {
		t.Fatalf("the whole book: %v", want)
	}
	n := 200
	if testing.Short() {
		n = 16
	}
	lost := 0
	for seed := range n {
		way := waysOfLogDamage[seed%len(waysOfLogDamage)]
		hurtLog, hurtIndex := way.hurt(rand.New(rand.NewPCG(uint64(seed), 7)), bytes.Clone(log), bytes.Clone(index))
		path := filepath.Join(t.TempDir(), "book.db")
		for more, data := range map[string][]byte{"": data, "-wal": hurtLog, "-shm": hurtIndex, tallySuffix: told} {
			if data != nil {
				writeFile(t, path+more, string(data))
			}
		}
		got := contents(t, path)
		for part, is := range got {
			_, refused := is.(error)
			if !refused && !reflect.DeepEqual(is, want[part]) && got["lost"] == nil {
				t.Errorf("seed %d, %s: %s differs without a word", seed, way.name, part)
			}
		}
		if got["lost"] == nil {
			continue
		}
		lost++
		b := open(t, path, Options{})
		if r, err := b.Check(ctx); err != nil || r.OK() {
			t.Errorf("seed %d, %s: the check says %+v, %v", seed, way.name, r, err)
		}
		if _, err := b.AddClock(ctx, sessions.Clock{Name: "Barn"}); kindOf(err) != KindDamaged {
			t.Errorf("seed %d, %s: adding to it: %v", seed, way.name, err)
		}
		if err := b.Close(); err != nil {
			t.Errorf("seed %d, %s: closing: %v", seed, way.name, err)
		}
		after := []byte(nil)
		if exists(path + "-wal") {
			after = readFile(t, path+"-wal")
		}
		if !bytes.Equal(after, hurtLog) || !bytes.Equal(readFile(t, path), data) || !bytes.Equal(readFile(t, path+tallySuffix), told) {
			t.Errorf("seed %d, %s: looking changed the files", seed, way.name)
		}
		if r, err := Salvage(ctx, path, path+".saved"); err != nil || r.OK() {
			t.Errorf("seed %d, %s: salvaged %+v, %v", seed, way.name, r, err)
		}
	}
	if lost < n/3 {
		t.Errorf("rows told as lost in %d of %d books: did they lose any?", lost, n)
	}
	t.Logf("%d books: rows told as lost in %d", n, lost)
}

func readFile(t testing.TB, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// Who ends a command while the book is looked at isn't told that it is damaged.
func TestEndedIsNotDamaged(t *testing.T) {
	b, c, _ := filled(t)
	ctx, end := context.WithCancel(t.Context())
	end()
	_, began := b.StartSession(ctx, sessions.Session{ClockID: c.ID, Kind: sessions.SessionAir, Started: noon})
	for _, err := range []error{b.whole(ctx, "air"), began} {
		if !errors.Is(err, context.Canceled) || strings.Contains(err.Error(), "damaged") {
			t.Errorf("got %v, want that it was ended", err)
		}
	}
}
