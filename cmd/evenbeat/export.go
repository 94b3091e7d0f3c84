package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"path/filepath"
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

// table is one kind of row on its way out of the book or into it.
type table struct {
	head []string
	rows [][]string
}

func newExportCmd(a *app) *cobra.Command {
	var what, out string
	var session int64
	c := &cobra.Command{
		Use:   "export",
		Short: "Write rows of the book to CSV or JSON",
		Long: `Write what the book holds of a clock as CSV or JSON, by the file's ending. Times are
RFC 3339, lengths in metres; an empty cell means not measured. --what all needs a
.json file.`,
		Example: `  evenbeat export --what checks --out checks.csv
  evenbeat export --what all --out hall.json`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			kinds := []string{what}
			if what == "all" {
				kinds = tables
			}
			ext := strings.ToLower(filepath.Ext(out))
			if ext != ".csv" && ext != ".json" {
				return badCall("--out %q: must end in .csv or .json", out)
			}
			if what == "all" && ext == ".csv" {
				return badCall("--what all has several tables, and CSV holds one: write a .json")
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				all := map[string]table{}
				for _, k := range kinds {
					t, err := a.table(c.Context(), b, clock, k, session)
					if err != nil {
						return err
					}
					all[k] = t
				}
				return a.writeOut(out, func(w io.Writer) error {
					if ext == ".json" {
						return render.JSON(w, a.made(clock.Name), jsonTables(all))
					}
					return all[what].writeCSV(w)
				})
			})
		},
	}
	a.clockFlag(c)
	c.Flags().StringVar(&what, "what", "all", "which rows: `"+strings.Join(tables, "|")+"|all`")
	c.Flags().StringVar(&out, "out", "", "the `FILE` to write: .csv or .json")
	c.Flags().Int64Var(&session, "session", 0, "for beats: timing session `N` (the newest)")
	return c
}

func (t table) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.Write(t.head); err != nil {
		return err
	}
	return c.WriteAll(t.rows)
}

// jsonTables turns the tables into objects: empty cells are left out, numbers are
// numbers.
func jsonTables(all map[string]table) map[string]any {
	out := map[string]any{}
	for name, t := range all {
		rows := make([]map[string]any, len(t.rows))
		for i, r := range t.rows {
			rows[i] = map[string]any{}
			for j, cell := range r {
				if cell == "" {
					continue
				}
				if x, err := strconv.ParseFloat(cell, 64); err == nil && !textColumns[t.head[j]] {
					rows[i][t.head[j]] = x
					continue
				}
				rows[i][t.head[j]] = cell
			}
		}
		out[name] = rows
	}
	return out
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
	zone := a.zone(clock)
	switch what {
	case "readings":
		t := table{head: []string{"reading", "session", "time", "clock", "part", "dimension", "kind", "value_m", "u_m", "text", "instrument", "state", "limit_m", "step_m", "u_form"}}
		for _, r := range rec.Readings {
			t.rows = append(t.rows, []string{strconv.FormatInt(r.ID, 10), cell(float64(r.SessionID), r.SessionID > 0), cellTime(r.At, zone), clock.Name, r.Part, r.Dimension, kindCell(r),
				cell(r.Value, true), cell(analysis.ReadingU(r), true), r.Text, r.Instrument, string(r.State),
				cell(r.Limit, r.Limit > 0), cell(r.Step, r.Step > 0), r.UForm()})
		}
		return t, nil
	case "beats":
		return a.beatTable(ctx, b, clock, rec, session)
	case "checks":
		t := table{head: []string{"time", "error_s", "u_s"}}
		for _, k := range rec.Checks {
			t.rows = append(t.rows, []string{cellTime(k.At, zone), cell(k.ErrorS, true), cell(k.U, true)})
		}
		return t, nil
	case "air":
		t := table{head: []string{"time", "temperature_c", "pressure_hpa", "humidity_pct"}}
		for _, x := range rec.Air {
			t.rows = append(t.rows, []string{cellTime(x.At, zone), cell(x.TemperatureC, x.HasTemperature),
				cell(x.PressureHPa, x.HasPressure), cell(x.HumidityPct, x.HasHumidity)})
		}
		return t, nil
	}
	if what == "particulars" {
		t := table{head: []string{"time", "part", "name", "value"}}
		for _, p := range rec.Particulars {
			t.rows = append(t.rows, []string{cellTime(p.At, zone), p.Part, p.Name, p.Value})
		}
		return t, nil
	}
	t := table{head: []string{"time", "kind", "turns", "text"}} // events
	for _, e := range rec.Events {
		t.rows = append(t.rows, []string{cellTime(e.At, zone), e.Kind, cell(e.Turns, e.HasTurns), e.Text})
	}
	return t, nil
}

// beatTable lists a timing session's beats on the corrected time base.
func (a *app) beatTable(ctx context.Context, b *book.Book, clock sessions.Clock, rec sessions.Record, session int64) (table, error) {
	t := table{head: []string{"index", "time_s", "state"}}
	ses, err := timingSession(rec.Sessions, clock, session)
	if err == errNoTiming {
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
	rows, err := analysis.Beats(clock, ses, b.Beats(ctx, ses.ID), opt)
	if err != nil {
		return t, fmt.Errorf("session %d: %w", ses.ID, err)
	}
	for _, row := range rows {
		index, state := strconv.FormatInt(row.Index, 10), "beat"
		if row.Spurious {
			index, state = "", "spurious"
		}
		t.rows = append(t.rows, []string{index, strconv.FormatFloat(row.TimeS, 'f', 9, 64), state})
	}
	return t, nil
}
