package book

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
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
		for i := range 200 {
			at := noon.Add(time.Duration(i) * time.Hour)
			readings = append(readings, sessions.Reading{SessionID: ses, ClockID: c.ID, At: at, Part: "barrel", Dimension: "bore", Kind: sessions.Inside, Value: 0.06 + float64(i)*1e-6, State: sessions.Kept, Text: "as sent"})
			checks = append(checks, sessions.Check{ClockID: c.ID, At: at, ErrorS: float64(i) / 7, U: 0.3})
			events = append(events, sessions.Event{ClockID: c.ID, At: at, Kind: sessions.EventWound, Text: "to the stop"})
			air = append(air, sessions.Air{ClockID: c.ID, At: at, TemperatureC: 20 + float64(i)/100, HasTemperature: true})
		}
		for _, err := range []error{b.AddReadings(ctx, readings), b.AddChecks(ctx, checks), b.AddEvents(ctx, events), b.AddAirs(ctx, air),
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
	clocks, err := b.Clocks(ctx)
	answer("clocks", clocks, err)
	for _, c := range clocks {
		for _, p := range []Part{Sessions, Readings, Checks, Events, Air} {
			r, err := b.Record(ctx, c.ID, p)
			of := map[Part]any{Sessions: r.Sessions, Readings: r.Readings, Checks: r.Checks, Events: r.Events, Air: r.Air}
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
		n = 60
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

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}
