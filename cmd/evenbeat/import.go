package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newImportCmd(a *app) *cobra.Command {
	var what string
	c := &cobra.Command{
		Use:   "import FILE",
		Short: "Read rows into the book from CSV or JSON: all of them or none",
		Long: `Read rows of the kind that export writes into the book. Further columns are
ignored. A bad row is named by its number, and then nothing is imported.`,
		Example: `  evenbeat import --what checks checks.csv
  evenbeat import --what air shed.json`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error { return a.importFile(c.Context(), what, args[0]) },
	}
	a.clockFlag(c)
	c.Flags().StringVar(&what, "what", "", "which rows: `"+strings.Join(tables, "|")+"|all`")
	return c
}

func (a *app) importFile(ctx context.Context, what, name string) error {
	kinds := []string{what}
	if what == "all" {
		kinds = tables
	} else if !slices.Contains(tables, what) {
		return badCall("--what %q is not known: use %s or all", what, strings.Join(tables, ", "))
	}
	isJSON := strings.EqualFold(filepath.Ext(name), ".json")
	if what == "all" && !isJSON {
		return badCall("--what all: CSV holds one kind of row: name it, or give a .json")
	}
	if what == "beats" && !isJSON {
		return a.importBeats(ctx, name)
	}
	all, err := a.readRows(name, what, isJSON)
	if err != nil {
		return err
	}
	// Bad rows are reported before a book is made. The second pass is for the clock's
	// zone, which applies to times without an offset and is known once the book is open.
	if err := (&incoming{zone: time.UTC, rows: all}).take(kinds, name); err != nil {
		return err
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		m := &incoming{clock: clock, zone: a.zone(clock), rows: all, start: a.now()}
		if err := m.take(kinds, name); err != nil {
			return err
		}
		n, err := m.keep(ctx, b)
		if err != nil {
			return err
		}
		a.say("%s: %d rows imported.\n", clock.Name, n)
		return nil
	})
}

// readRows reads a file's rows by their kind, which a JSON file names itself.
func (a *app) readRows(name, what string, isJSON bool) (all map[string][]row, err error) {
	err = a.withInput(name, func(in io.Reader) (err error) {
		if isJSON {
			all, err = readJSONRows(in)
		} else {
			all = map[string][]row{}
			all[what], err = readCSVRows(in)
		}
		if err != nil {
			return badCall("%s: %w", name, err)
		}
		return nil
	})
	return all, err
}

// row is one row of a file: cells by the name of their column, and its number as
// an editor shows it.
type row struct {
	line  int
	cells map[string]string
}

func readCSVRows(in io.Reader) ([]row, error) {
	c := csv.NewReader(in)
	head, err := c.Read()
	if err == io.EOF {
		return nil, fmt.Errorf("empty: the first line must name the columns")
	}
	if err != nil {
		return nil, err
	}
	var rows []row
	for {
		line, err := c.Read()
		if err == io.EOF {
			return rows, nil
		}
		if err != nil {
			return nil, err
		}
		n, _ := c.FieldPos(0)
		r := row{n, map[string]string{}}
		for i, text := range line {
			name := strings.TrimSpace(head[i])
			if name != "text" { // what an instrument sent is kept blank for blank
				text = strings.TrimSpace(text)
			}
			r.cells[name] = text
		}
		rows = append(rows, r)
	}
}

func readJSONRows(in io.Reader) (map[string][]row, error) {
	var file map[string]json.RawMessage
	if err := json.NewDecoder(in).Decode(&file); err != nil {
		return nil, err
	}
	all := map[string][]row{}
	for _, name := range slices.Sorted(maps.Keys(file)) {
		if !slices.Contains(tables, name) {
			continue
		}
		var objects []map[string]any
		if err := json.Unmarshal(file[name], &objects); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		for i, o := range objects {
			r := row{i + 1, map[string]string{}}
			for k, v := range o {
				if x, ok := v.(float64); ok {
					r.cells[k] = strconv.FormatFloat(x, 'g', -1, 64)
				} else {
					r.cells[k] = fmt.Sprint(v)
				}
			}
			all[name] = append(all[name], r)
		}
	}
	return all, nil
}

// number returns a cell as a number; has is false for an empty cell.
func (r row) number(column string) (x float64, has bool, err error) {
	text := r.cells[column]
	if text == "" {
		return 0, false, nil
	}
	x, err = strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, false, fmt.Errorf("row %d: %s %q is no number", r.line, column, text)
	}
	return x, true, nil
}

func (r row) need(column string) (float64, error) {
	x, has, err := r.number(column)
	if err == nil && !has {
		err = fmt.Errorf("row %d: %s is empty", r.line, column)
	}
	return x, err
}

func (r row) time(zone *time.Location) (time.Time, error) {
	for _, layout := range timeLayouts {
		if t, err := time.ParseInLocation(layout, r.cells["time"], zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("row %d: time %q is no time: write it like 2026-03-01T08:00:00+01:00", r.line, r.cells["time"])
}

// incoming gathers rows until all are known to be good.
type incoming struct {
	clock    sessions.Clock
	zone     *time.Location
	rows     map[string][]row
	readings []sessions.Reading
	beats    []sessions.Beat
	start    time.Time // of imported beats: the time of the import
	checks   []sessions.Check
	air      []sessions.Air
	events   []sessions.Event
}
