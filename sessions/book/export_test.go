package book

import (
	"bytes"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"evenbeat/sessions"
)

// exportsOf returns the export of each clock of a book.
func exportsOf(t *testing.T, path string) (texts []string) {
	t.Helper()
	b, err := Open(t.Context(), path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	clocks, err := b.Clocks(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range clocks {
		var text bytes.Buffer
		if err := b.Export(t.Context(), &text, c.ID); err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text.String())
	}
	return texts
}

// readBack makes a book of an export.
func readBack(t *testing.T, text string) string {
	t.Helper()
	path, _, err := ReadExport(t.Context(), json.NewDecoder(strings.NewReader(text)), func() {}, filepath.Join(t.TempDir(), "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// Each clock goes out and comes back by itself with every row and its number, and all of
// them brought together say what the book said. None adds anything twice.
func TestExportComesBack(t *testing.T) {
	n := 20
	if testing.Short() {
		n = 3
	}
	for seed := range n {
		r := rand.New(rand.NewPCG(uint64(seed), 21))
		one, two := twoBenches(t)
		one.at(t, func(b *Book) {
			first := addClock(t, b, "Hall clock")
			addClock(t, b, "Landing clock")
			addClock(t, b, "Kitchen clock")
			for range 60 {
				work(t, r, b, 3)
			}
			ses := startSession(t, b, first.ID, sessions.SessionTime)
			for _, err := range []error{
				b.AppendReferences(t.Context(), ses, []sessions.Reference{{HostMono: 5, HostUTC: 6, Nanos: 7, ByPulse: true}}),
				b.AddHostReading(t.Context(), ses, sessions.HostReading{Host: "bench", Boot: "1", Synced: true, MonoNs: 8, RawNs: 9}),
				b.AppendBeats(t.Context(), ses, []sessions.Beat{{Count: 1 << 63, HostMono: -2000, HostUTC: 1772352000000000000, Edge: -3}, {Count: 2, HostUTC: 1772352000000001000, Break: true}}),
			} {
				if err != nil {
					t.Fatal(err)
				}
			}
			if _, err := b.AddReading(t.Context(), sessions.Reading{ClockID: first.ID, At: noon, Part: "barrel", Dimension: "bore", Kind: sessions.Inside,
				Value: 0.1 + 0.2, U: 1e-7, State: sessions.Kept, Text: "\xff <3.2\x00\u2028", Instrument: "caliper"}); err != nil {
				t.Fatal(err)
			}
		})
		two.at(t, func(*Book) {})
		texts := exportsOf(t, one.path)
		for _, text := range texts {
			path := readBack(t, text)
			if again := exportsOf(t, path); !slices.Contains(again, text) {
				t.Errorf("seed %d: went out as\n%s\nand came back as\n%s", seed, text, again)
			}
			merged(t, two.path, path)
			if m := merged(t, two.path, path); m.Added > 0 {
				t.Errorf("seed %d: once more added %+v", seed, m)
			}
		}
		if a, b := said(t, one.path), said(t, two.path); a != b {
			t.Errorf("seed %d: the book said\n%s\nand says\n%s", seed, a, b)
		}
	}
}

// What an empty book is brought keeps its numbers.
func TestMergeKeepsNumbers(t *testing.T) {
	one, two := twoBenches(t)
	one.at(t, func(b *Book) {
		for _, name := range []string{"Hall clock", "Landing clock"} {
			c := addClock(t, b, name)
			startSession(t, b, c.ID, sessions.SessionTime)
			if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: 1, U: 0.1}); err != nil {
				t.Fatal(err)
			}
		}
	})
	two.at(t, func(*Book) {})
	merged(t, two.path, readBack(t, exportsOf(t, one.path)[1]))
	b := open(t, two.path, Options{})
	c, err := b.ClockByName(t.Context(), "Landing clock")
	if err != nil {
		t.Fatal(err)
	}
	r, err := b.Record(t.Context(), c.ID)
	if err != nil || c.ID != 2 || len(r.Sessions) != 1 || r.Sessions[0].ID != 2 || len(r.Checks) != 1 || r.Checks[0].ID != 2 {
		t.Errorf("clock %d: %+v, %v", c.ID, r, err)
	}
}

// smallExport is the export of a clock with a row of nearly every kind.
func smallExport(t testing.TB) string {
	t.Helper()
	b, err := Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), Options{Create: true, Now: func() time.Time { return noon }})
	if err != nil {
		t.Fatal(err)
	}
	c, err := b.AddClock(t.Context(), sessions.Clock{Name: "Hall clock", BeatsPerHour: 3600, Zone: "Europe/Paris"})
	if err != nil {
		t.Fatal(err)
	}
	ses, err := b.StartSession(t.Context(), sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Port: "/dev/ttyACM0", Started: noon, Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}})
	if err != nil {
		t.Fatal(err)
	}
	_, readingErr := b.AddReading(t.Context(), sessions.Reading{ClockID: c.ID, At: noon, Part: "barrel", Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Kept, Text: "60 mm"})
	_, checkErr := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: 1.25, U: 0.1})
	var text bytes.Buffer
	if err := errors.Join(readingErr, checkErr, b.AppendBeats(t.Context(), ses, sensor(3, 4)), b.EndSession(t.Context(), ses, noon.Add(time.Hour)),
		b.Withdraw(t.Context(), ThingCheck, 1, "a mistake"), b.Export(t.Context(), &text, c.ID), b.Close()); err != nil {
		t.Fatal(err)
	}
	return text.String()
}

// An export that is cut short, changed, or newer than the program makes no book, and leaves
// no file.
func TestReadExportRefuses(t *testing.T) {
	text := smallExport(t)
	changed := func(from, to string) string {
		t.Helper()
		if strings.Count(text, from) == 0 {
			t.Fatalf("no %s in\n%s", from, text)
		}
		return strings.Replace(text, from, to, 1)
	}
	cases := map[string]struct {
		text, says string
		kind       Kind
	}{
		"newer":         {changed(`"layout": `, `"layout": 9`), "use the newer program", KindNewer},
		"no layout":     {changed(`"layout": `, `"count": 0, "was": `), `"was" is not known`, ""},
		"layout behind": {changed(`{"layout": 9, `, `{`), "the layout must stand before the rows", ""},
		"a digit":       {changed("1.25", "1.26"), "its checksum doesn't fit", ""},
		"a row less":    {changed(`{"table": "withdrawals", "id": 1, `, `{"table": "withdrawals", "id": 2, `), "its checksum doesn't fit", ""},
		"a table":       {changed(`"checks"`, `"chess"`), `row 7: table "chess" is not known`, ""},
		"schema":        {changed(`"checks"`, `"sqlite_schema"`), `table "sqlite_schema" is not known`, ""},
		"a column":      {changed(`"error_s"`, `"error_m"`), "row 7: checks has no error_m", ""},
		"a kind":        {changed("1.25", `"fast"`), `row 7: checks, error_s: "fast" is no number`, ""},
		"no such clock": {changed(`"clock_id": 1, "kind"`, `"clock_id": 3, "kind"`), "row 3: sessions: .*points at a row that is not there", ""},
		"uneven lists":  {changed(`"host_mono_ns": [`, `"host_mono_ns": [1,`), "row 5: beat_chunks: its lists are not of one length", ""},
		"no list":       {`[1]`, "stands where { should", ""},
		"no rows":       {`{"layout": 9, "count": 0, "sha256": ""}`, "its checksum doesn't fit", ""},
	}
	for name, c := range cases {
		dir := t.TempDir()
		_, _, err := ReadExport(t.Context(), json.NewDecoder(strings.NewReader(c.text)), func() {}, filepath.Join(dir, "book.db"))
		if err == nil || !regexp.MustCompile(c.says).MatchString(err.Error()) || kindOf(err) != c.kind {
			t.Errorf("%s: got %v (kind %q), want %q", name, err, kindOf(err), c.says)
		}
		if left := files(t, dir); len(left) > 0 {
			t.Errorf("%s: left %v", name, left)
		}
	}
	for cut := 0; cut < len(text); cut += 97 {
		dir := t.TempDir()
		if _, _, err := ReadExport(t.Context(), json.NewDecoder(strings.NewReader(text[:cut])), func() {}, filepath.Join(dir, "book.db")); err == nil {
			t.Errorf("cut at %d it was taken", cut)
		}
		if left := files(t, dir); len(left) > 0 {
			t.Errorf("cut at %d: left %v", cut, left)
		}
	}
}

// FuzzExportRow reads any text as a row of an export. It panics at nothing, and what it
// takes comes out as the row and the chunk that went in.
func FuzzExportRow(f *testing.F) {
	for line := range strings.Lines(smallExport(f)) {
		f.Add([]byte(strings.TrimSuffix(line, ",\n")))
	}
	f.Add([]byte(`{"table": "beat_chunks", "id": 1, "count": [], "host_mono_ns": [], "host_utc_ns": []}`))
	f.Add([]byte(`{"table": "beat_chunks", "id": 1, "count": [1], "host_mono_ns": [-1], "host_utc_ns": [9223372036854775807], "edge": [-32768], "break": [1]}`))
	f.Add([]byte(`{"table": "readings", "id": 0, "value": 1e999, "text": {"base64": "/w=="}, "why": null}`))
	tables := map[string]*exportTable{
		"beat_chunks": {columns: []string{"id", "session_id", "first_beat", "beats", "data"}, kinds: []string{"INTEGER", "INTEGER", "INTEGER", "INTEGER", "BLOB"}},
		"readings":    {columns: []string{"id", "value", "text", "why"}, kinds: []string{"INTEGER", "REAL", "TEXT", "TEXT"}},
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		for name, table := range tables {
			var held []sessions.Beat
			read := func(text []byte) (rawRow, error) {
				var raw map[string]json.RawMessage
				if err := json.Unmarshal(text, &raw); err != nil {
					return rawRow{}, err
				}
				delete(raw, "table")
				return table.row(name, raw, &held)
			}
			r, err := read(text)
			if err != nil {
				continue
			}
			out := exportRow(nil, name, r, held)
			again, err := read(out)
			if err != nil || !cmp.Equal(r.values, again.values) {
				t.Errorf("%s gives\n%v, which goes out as %s and comes back as\n%v, %v", text, r.values, out, again.values, err)
			}
			if data, _ := r.values[len(r.values)-1].([]byte); name == "beat_chunks" {
				if beats, err := decodeChunk(nil, data); err != nil || len(beats) != len(held) {
					t.Errorf("%s: its chunk holds %d beats, %v", text, len(beats), err)
				}
			}
		}
	})
}
