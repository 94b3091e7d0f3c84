package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

var importedNow = time.Date(2026, 3, 10, 12, 0, 0, 0, time.UTC)

// fuzzed is an import without a book: all rows are of one clock.
func fuzzed() *importing {
	return &importing{app: &app{now: func() time.Time { return importedNow }}, name: "fuzzed"}
}

func oneClock(string) (sessions.Clock, error) {
	return sessions.Clock{ID: 1, Name: "Hall", Zone: "Europe/Paris"}, nil
}

// takeCSV reads a table of a kind as import does.
func takeCSV(text, kind string) (book.Incoming, int, error) {
	c, err := openCSV(strings.NewReader(text), mostRows, rowColumns[kind].must...)
	if err != nil {
		return book.Incoming{}, 0, err
	}
	rows, err := c.all()
	if err != nil {
		return book.Incoming{}, 0, err
	}
	in, err := fuzzed().take(rowFile{rows: map[string][]row{kind: rows}}, []string{kind}, oneClock)
	return in, len(rows), err
}

// holds fails the test unless each of n rows was taken, within the bounds.
func holds(t *testing.T, in book.Incoming, n int) {
	t.Helper()
	beats := beatsOfImport(in)
	if got := len(in.Readings) + len(in.Checks) + len(in.Events) + len(in.Air) + len(beats); got != n {
		t.Errorf("%d rows taken of %d", got, n)
	}
	var errs []error
	for _, x := range in.Readings {
		errs = append(errs, x.Validate(importedNow))
	}
	for _, x := range in.Checks {
		errs = append(errs, x.Validate(importedNow))
	}
	for _, x := range in.Events {
		errs = append(errs, x.Validate(importedNow))
	}
	for _, x := range in.Air {
		errs = append(errs, x.Validate(importedNow))
	}
	if err := errors.Join(errs...); err != nil {
		t.Error(err)
	}
	if !slices.IsSortedFunc(beats, func(a, b sessions.Beat) int { return int(a.HostMono - b.HostMono) }) {
		t.Error("beats go back in time")
	}
}

func beatsOfImport(in book.Incoming) (all []sessions.Beat) {
	if in.Beats != nil {
		for some := range in.Beats {
			all = append(all, some...)
		}
	}
	return all
}

// differ compares what was taken of two texts of the same rows.
func differ(a, b book.Incoming) string {
	beats := cmp.Diff(beatsOfImport(a), beatsOfImport(b))
	a.Beats, b.Beats = nil, nil
	return beats + cmp.Diff(a, b)
}

// FuzzImportCSV has any text read as each table: what is taken is within the bounds, and
// a byte order mark or other line ends change nothing.
func FuzzImportCSV(f *testing.F) {
	for _, text := range []string{
		"time,part,dimension,value_m,kind,u_m,text,instrument,state,limit_m,step_m,u_form\n2026-03-01T08:00:00Z,barrel,bore,0.06,inside,1e-5,60.00mm,caliper,kept,,1e-5,standard\n",
		"time,error_s,u_s\r\n2026-03-01 08:00,1.5,0.1\r\n\r\n2026-10-25 02:30,2,0.1",
		"\ufefftime;error_s;u_s\n2026-03-01;-1,5;0,1\n",
		"time\ttemperature_c\n2026-03-01T08:00Z\t21.4\n",
		"time,kind,turns,text\r2026-03-01T08:00:00Z,adjusted,-0.5,\"a \"\"half\"\", down\"\r",
		"index,time_s,state\n0,0.5,beat\n1,1.5,beat\n",
		"time,error_s,u_s\n2026-03-01T08:00:00Z,1,\"0.1\n",
		"", "\n", "time", ",,,\n,,,\n",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for kind := range rowColumns {
			in, n, err := takeCSV(text, kind)
			if err == nil {
				holds(t, in, n)
			}
			if strings.HasPrefix(text, "\ufeff") || strings.ContainsAny(text, "\r\"") || len(text) > mostHead/2 {
				continue
			}
			for how, same := range map[string]string{"mark": "\ufeff" + text, "CR": strings.ReplaceAll(text, "\n", "\r"), "CRLF": strings.ReplaceAll(text, "\n", "\r\n")} {
				again, m, aerr := takeCSV(same, kind)
				if (err == nil) != (aerr == nil) || err == nil && n != m {
					t.Errorf("%s: %d rows, %v; with %s %d rows, %v", kind, n, err, how, m, aerr)
				} else if d := differ(in, again); err == nil && d != "" {
					t.Errorf("%s with %s:\n%s", kind, how, d)
				}
			}
		}
	})
}

// FuzzImportJSON has any text read as JSON: what is taken is within the bounds, and the
// same rows as CSV are taken in the same way.
func FuzzImportJSON(f *testing.F) {
	for _, text := range []string{
		`{"clock":"Hall","checks":[{"time":"2026-03-01T08:00:00Z","error_s":1.5,"u_s":"0.1"}],"air":[{"time":"2026-03-01T08:00","temperature_c":21.4}]}`,
		`{"readings":[{"time":"2026-03-01T08:00:00Z","part":"barrel","dimension":"bore","value_m":6e-2,"state":"doubtful","text":" 60 mm","limit_m":2e-5}]}`,
		`{"events":[{"time":"2026-03-01T08:00:00Z","kind":"adjusted","turns":-0.5,"text":"a, \"b\"\n"}],"beats":[{"time_s":0},{"time_s":1.5}]}`,
		`{"events":null}`, `{"checks":[[]]}`, `{"checks":[{"time":{"a":1}}]}`, `[]`, `{`, ``, "\ufeff{}", `{"checks":[],"checks":[]}`,
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		file, err := readJSON(strings.NewReader(text), tables, nil)
		if err != nil {
			return
		}
		for kind, rows := range file.rows {
			in, err := fuzzed().take(file, []string{kind}, oneClock)
			if err == nil {
				holds(t, in, len(rows))
			}
			table, ok := asCSV(t, kind, rows)
			if !ok {
				continue
			}
			same, n, cerr := takeCSV(table, kind)
			if (err == nil) != (cerr == nil) || err == nil && n != len(rows) {
				t.Errorf("%s as JSON: %v; as CSV: %v\n%s", kind, err, cerr, table)
			} else if d := differ(in, same); err == nil && d != "" {
				t.Errorf("%s as JSON and CSV:\n%s", kind, d)
			}
		}
	})
}

// asCSV writes rows as CSV; false where CSV can't hold them, since it knows no line end
// but LF and no line without a cell.
func asCSV(t *testing.T, kind string, rows []row) (string, bool) {
	var names []string
	for _, name := range slices.Concat(rowColumns[kind].must, rowColumns[kind].may) {
		if !strings.Contains(name, "|") {
			names = append(names, name)
		}
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	all := [][]string{names}
	for _, r := range rows {
		var cells []string
		for _, name := range names {
			cells = append(cells, r.cell(name))
		}
		if strings.ContainsAny(strings.Join(cells, ""), "\r") || len(strings.Join(cells, "")) > mostHead {
			return "", false
		}
		all = append(all, cells)
	}
	if err := w.WriteAll(all); err != nil {
		t.Fatal(err)
	}
	return b.String(), true
}

// FuzzStock has any text read as a list of strips: those that are taken have sizes.
func FuzzStock(f *testing.F) {
	for _, text := range []string{
		"name,thickness,height,length,quantity\nold,0.40mm,20mm,1750mm,2\n,0.5 mm,,,\n",
		"thickness;name\n0,4mm;a\n", "thickness\n1/64in\n", "thickness\n-1mm\n", "name,thickness\n\"a\nb\",1mm\n", "", "thickness\n",
		"thickness,quantity\n0.4mm,-1\n", "thickness,quantity\n0.4±0.1mm,9999999999999999999999\n",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		a := fuzzed().app
		a.in = io.Reader(strings.NewReader(text))
		strips, err := a.readStock("-")
		if err == nil && len(strips) == 0 {
			t.Error("no strip, and no error")
		}
		for _, s := range strips {
			if v := s.Thickness.V; !(v > 0 && v < math.MaxFloat64) {
				t.Errorf("thickness %g", v)
			}
			if s.Quantity != nil && *s.Quantity < 0 {
				t.Errorf("%d strips", *s.Quantity)
			}
		}
	})
}
