package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// tables names what can be taken out of the book, in order.
var tables = []string{"readings", "beats", "checks", "air", "events", "particulars"}

// tableParts are the parts of a clock's record that the tables are made of.
var tableParts = map[string]book.Part{"readings": book.Readings, "beats": book.Sessions, "checks": book.Checks, "air": book.Air, "events": book.Events, "particulars": book.Particulars}

// table is one kind of row on its way out of the book.
type table struct {
	head []string
	rows iter.Seq2[[]string, error]
}

func newExportCmd(a *app) *cobra.Command {
	var what, out string
	var session int64
	c := &cobra.Command{
		Use:   "export",
		Short: "Write rows of the book to CSV or JSON",
		Long: `Write what the book holds of a clock as CSV or JSON, by the file's ending; .gz behind
it packs the file. Times are RFC 3339, lengths in metres; an empty cell means not
measured. --what all needs JSON. It holds the whole record besides, with all sessions and
beats, from which import makes the same clock again. Photographs are only named in it.`,
		Example: `  evenbeat export --what checks --out checks.csv
  evenbeat export --what all --out hall.json.gz`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			ext := rowsExt(out)
			if ext != ".csv" && ext != ".json" {
				return badCall("--out %q: name a file that ends in .csv or .json, or either with .gz", out)
			}
			if what == "all" && ext == ".csv" {
				return badCall("--what all has several tables, and CSV holds one: write a .json")
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				return a.writeOut(out, packed(out, func(w io.Writer) error {
					if ext == ".json" {
						return a.writeJSON(c.Context(), w, b, clock, what, session)
					}
					t, err := a.table(c.Context(), b, clock, what, session)
					if err != nil {
						return err
					}
					return t.writeCSV(w)
				}))
			})
		},
	}
	a.clockFlag(c)
	c.Flags().StringVar(&what, "what", "all", "which rows: `"+strings.Join(tables, "|")+"|all`")
	c.Flags().StringVar(&out, "out", "", "the `FILE` to write: .csv or .json")
	c.Flags().Int64Var(&session, "session", 0, "for beats: timing session `N` (the newest)")
	return c
}

// rowsExt is the ending that tells the form of a file of rows, with or without .gz.
func rowsExt(name string) string {
	name, _ = strings.CutSuffix(strings.ToLower(name), packedExt)
	return filepath.Ext(name)
}

// packed packs what write writes if the file's name says so.
func packed(name string, write func(io.Writer) error) func(io.Writer) error {
	if !strings.EqualFold(filepath.Ext(name), packedExt) {
		return write
	}
	return func(w io.Writer) error {
		z := gzip.NewWriter(w)
		if err := write(z); err != nil {
			return err
		}
		return z.Close()
	}
}

func (t table) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.Write(t.head); err != nil {
		return err
	}
	for r, err := range t.rows {
		if err != nil {
			return err
		}
		if err := c.Write(r); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// writeJSON writes one table or all as an object, a row a line: a year of beats has no
// room in memory. All of them come behind the whole record.
func (a *app) writeJSON(ctx context.Context, w io.Writer, b *book.Book, clock sessions.Clock, what string, session int64) error {
	var about bytes.Buffer
	if err := render.JSON(&about, a.made(clock.Name), struct{}{}); err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	out.Write(bytes.TrimRight(about.Bytes(), "\n}"))
	kinds := []string{what}
	if what == "all" {
		kinds = tables
		fmt.Fprintf(out, ",\n%q: ", recordKey)
		if err := b.Export(ctx, out, clock.ID); err != nil {
			return err
		}
	}
	for _, kind := range kinds {
		t, err := a.table(ctx, b, clock, kind, session)
		if err != nil {
			return err
		}
		fmt.Fprintf(out, ",\n%q: [", kind)
		if err := t.writeJSON(out); err != nil {
			return err
		}
		out.WriteString("]")
	}
	out.WriteString("}\n")
	return out.Flush()
}

// writeJSON writes rows as objects: empty cells are left out, numbers are numbers.
func (t table) writeJSON(out *bufio.Writer) error {
	end := "\n{"
	for r, err := range t.rows {
		if err != nil {
			return err
		}
		for j, cell := range r {
			if cell == "" {
				continue
			}
			if _, err := strconv.ParseFloat(cell, 64); err != nil || textColumns[t.head[j]] {
				quoted, _ := json.Marshal(cell) // text alone gives no error
				cell = string(quoted)
			}
			fmt.Fprintf(out, "%s%q:%s", end, t.head[j], cell)
			end = ","
		}
		out.WriteString("}")
		end = ",\n{"
	}
	return nil
}

// textColumns are text even where the text looks like a number.
var textColumns = map[string]bool{"text": true, "clock": true, "part": true, "dimension": true, "instrument": true, "time": true, "state": true, "kind": true, "u_form": true, "name": true, "value": true}

func cell(x float64, has bool) string {
	if !has {
		return ""
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}

// kindCell is empty for a kind that was only guessed, so that an import guesses too.
func kindCell(r sessions.Reading) string {
	if r.KindGuessed {
		return ""
	}
	return string(r.Kind)
}

func cellTime(t time.Time, zone *time.Location) string { return t.In(zone).Format(time.RFC3339Nano) }

// table reads one kind of row from the book.
func (a *app) table(ctx context.Context, b *book.Book, clock sessions.Clock, what string, session int64) (table, error) {
	part, ok := tableParts[what]
	if !ok {
		return table{}, badCall("--what %q is not known: use %s or all", what, strings.Join(tables, ", "))
	}
	rec, err := b.Record(ctx, clock.ID, part)
	if err != nil {
		return table{}, err
	}
	if what == "beats" {
		return a.beatTable(ctx, b, clock, rec, session)
	}
	head, rows := recordTable(rec, what, a.zone(clock))
	return table{head, func(yield func([]string, error) bool) {
		for _, r := range rows {
			if !yield(r, nil) {
				return
			}
		}
	}}, nil
}

// recordTable returns one kind of a record's rows, and the names of their columns.
func recordTable(rec sessions.Record, what string, zone *time.Location) (head []string, rows [][]string) {
	switch what {
	case "readings":
		head = []string{"reading", "session", "time", "clock", "part", "dimension", "kind", "value_m", "u_m", "text", "instrument", "state", "limit_m", "step_m", "u_form"}
		for _, r := range rec.Readings {
			rows = append(rows, []string{strconv.FormatInt(r.ID, 10), cell(float64(r.SessionID), r.SessionID > 0), cellTime(r.At, zone), rec.Clock.Name, r.Part, r.Dimension, kindCell(r),
				cell(r.Value, true), cell(analysis.ReadingU(r), true), r.Text, r.Instrument, string(r.State),
				cell(r.Limit, r.Limit > 0), cell(r.Step, r.Step > 0), r.UForm()})
		}
	case "checks":
		head = []string{"time", "error_s", "u_s"}
		for _, k := range rec.Checks {
			rows = append(rows, []string{cellTime(k.At, zone), cell(k.ErrorS, true), cell(k.U, true)})
		}
	case "air":
		head = []string{"time", "temperature_c", "pressure_hpa", "humidity_pct"}
		for _, x := range rec.Air {
			rows = append(rows, []string{cellTime(x.At, zone), cell(x.TemperatureC, x.HasTemperature),
				cell(x.PressureHPa, x.HasPressure), cell(x.HumidityPct, x.HasHumidity)})
		}
	case "particulars":
		head = []string{"time", "part", "name", "value"}
		for _, p := range rec.Particulars {
			rows = append(rows, []string{cellTime(p.At, zone), p.Part, p.Name, p.Value})
		}
	case "events":
		head = []string{"time", "kind", "turns", "text"}
		if slices.ContainsFunc(rec.Events, func(e sessions.Event) bool { return e.HasBefore || e.HasAfter }) {
			head = append(head, "before_s", "after_s") // of the dial, where the hands were set
		}
		for _, e := range rec.Events {
			row := []string{cellTime(e.At, zone), e.Kind, cell(e.Turns, e.HasTurns), e.Text, cell(e.Before, e.HasBefore), cell(e.After, e.HasAfter)}
			rows = append(rows, row[:len(head)])
		}
	}
	return head, rows
}

// beatTable lists a timing session's beats on the corrected time base.
func (a *app) beatTable(ctx context.Context, b *book.Book, clock sessions.Clock, rec sessions.Record, session int64) (table, error) {
	t := table{head: []string{"index", "time_s", "state"}}
	t.rows = func(func([]string, error) bool) {}
	ses, err := timingSession(rec.Sessions, clock, session)
	if errors.Is(err, errNoTiming) {
		return t, nil
	}
	if err != nil {
		return t, err
	}
	opt, err := a.rateOptions(gateFlag{})
	if err != nil {
		return t, err
	}
	if err := tellOfSession(ctx, b, ses, &opt); err != nil {
		return t, err
	}
	t.rows = func(yield func([]string, error) bool) {
		for row, err := range analysis.Beats(clock, ses, b.Beats(ctx, ses.ID), opt) {
			index, state := strconv.FormatInt(row.Index, 10), "beat"
			if row.Spurious {
				index, state = "", "spurious"
			}
			if err != nil {
				err = fmt.Errorf("session %d: %w", ses.ID, err)
			}
			if !yield([]string{index, strconv.FormatFloat(row.TimeS, 'f', 9, 64), state}, err) {
				return
			}
		}
	}
	return t, nil
}
