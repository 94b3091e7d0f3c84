package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// run puts all rows into the new book, and reports those that it could not.
func (s *salvage) run(ctx context.Context) error {
	if err := s.survey(ctx); err != nil {
		return err
	}
	if s.f.LogLost > 0 {
		s.lost("the write-ahead log: %d of its pages are damaged, so what was recorded last may be lost", s.f.LogLost)
	}
	s.findChunks()
	rows := int64(0)
	for _, t := range s.tables {
		var err error
		if t.name == "beat_chunks" {
			err = s.putChunks(ctx, t)
		} else {
			err = s.put(ctx, t)
		}
		if err == nil && t.name == "clock_versions" {
			err = s.describeAll(ctx)
		}
		if err != nil {
			return err
		}
		rows += t.sum.Saved
	}
	if rows == 0 && s.report.Layout == 0 {
		return &Error{Path: s.report.From, Kind: KindNotABook, What: s.report.From + ": nothing of a book was found in it", Remedy: "name the damaged book, or restore a backup"}
	}
	for _, t := range s.tables {
		if err := s.account(ctx, t); err != nil {
			return err
		}
		s.report.Tables = append(s.report.Tables, t.sum)
	}
	return nil
}

// put puts a table's rows into the new book. What it refuses is lost.
func (s *salvage) put(ctx context.Context, t *salvageTable) error {
	put, err := s.tx.PrepareContext(ctx, t.insertion())
	if err != nil {
		return err
	}
	defer func() { _ = put.Close() }() // the transaction closes it too, and its fate is the answer
	for _, l := range t.leaves {
		p, ok := s.f.Page(l.page)
		if !ok {
			continue // it could be read a moment ago; the index tells what is lost
		}
		s.rows(t, p, func(id int64, row []any, whole bool) {
			if err != nil {
				return
			}
			if !whole {
				t.lose(id, "the pages on which it goes on are damaged")
			} else if err = s.parents(ctx, t, row); err == nil {
				err = s.putRow(ctx, t, put, id, row)
			}
		})
	}
	for _, x := range t.indices {
		if err == nil {
			err = s.fromIndex(ctx, t, x, put)
		}
	}
	return err
}

// putRow puts in a row, unless it is there already.
func (s *salvage) putRow(ctx context.Context, t *salvageTable, put *sql.Stmt, id int64, row []any) error {
	_, refused := put.ExecContext(ctx, row...)
	if refused == nil {
		t.sum.Saved++
		return nil
	}
	if ctx.Err() != nil || !errors.Is(refused, sqlite3.CONSTRAINT) {
		return refused
	}
	held, err := s.held(ctx, t, id)
	if err == nil && !reflect.DeepEqual(held, row) {
		t.lose(id, t.refusal(refused))
	}
	return err
}

func (t *salvageTable) insertion() string {
	return "INSERT INTO " + t.name + " VALUES (?" + strings.Repeat(", ?", len(t.columns)-1) + ")"
}

// fromIndex puts in the rows that only an index still has, where it has all columns.
func (s *salvage) fromIndex(ctx context.Context, t *salvageTable, x *salvageIndex, put *sql.Stmt) error {
	if !t.covered(x) {
		return nil
	}
	missing, believed, err := s.missing(ctx, t, x)
	if err != nil || !believed {
		return err
	}
	for id, values := range missing {
		row := make([]any, len(t.columns))
		for i := range row {
			row[i] = id
			if at := slices.Index(x.columns, i); at >= 0 {
				row[i] = values[at]
			}
		}
		err := s.parents(ctx, t, row)
		if err == nil {
			err = s.putRow(ctx, t, put, id, row)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// covered reports whether an index has all columns of its table.
func (t *salvageTable) covered(x *salvageIndex) bool {
	for i, c := range t.columns {
		if !c.number && !slices.Contains(x.columns, i) {
			return false
		}
	}
	return true
}

// refusal is why the book refused a row, without the names that the report gives anyway.
func (t *salvageTable) refusal(err error) string {
	text := strings.TrimPrefix(err.Error(), "sqlite3: ")
	return "refused; " + strings.TrimPrefix(strings.TrimPrefix(text, "constraint failed: "), t.name+": ")
}

func (t *salvageTable) lose(id int64, why string) {
	if t.missed == nil {
		t.missed = map[int64]string{}
	}
	t.missed[id] = why
}

// held returns the new book's row of a number; nil if it has none.
func (s *salvage) held(ctx context.Context, t *salvageTable, id int64) ([]any, error) {
	rows, err := s.tx.QueryContext(ctx, "SELECT * FROM "+t.name+" WHERE rowid = ?", id)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	if !rows.Next() {
		return nil, rows.Err()
	}
	row := make([]any, len(t.columns))
	to := make([]any, len(row))
	for i := range row {
		to[i] = &row[i]
	}
	err = rows.Scan(to...)
	return row, err
}

// account tells which rows of a table are lost, by its indices.
func (s *salvage) account(ctx context.Context, t *salvageTable) error {
	known := t.whole || s.schema && !t.rooted // or the table is newer than the file
	for _, x := range t.indices {
		entries := int64(0)
		sound := s.entries(x, func(int64, []any) { entries++ })
		if t.name != "beat_chunks" && entries != t.sum.Saved {
			believed, err := s.loseMissing(ctx, t, x)
			if err != nil {
				return err
			}
			sound = sound && believed
		}
		known = known || sound && x.whole
	}
	for _, id := range slices.Sorted(maps.Keys(t.missed)) {
		s.lost("%s, row %d: %s", t.name, id, t.missed[id])
	}
	t.sum.Lost = int64(len(t.missed))
	if err := s.loseTold(ctx, t); err != nil {
		return err
	}
	if t.sum.Unknown = !known; t.sum.Unknown {
		s.lost("%s: more rows may be lost, since pages of the table and of its index are damaged", t.name)
	}
	return nil
}

// loseTold lists the rows behind the table's last that the tally beside the book tells.
func (s *salvage) loseTold(ctx context.Context, t *salvageTable) error {
	is := tallied{table: t.name}
	for id := range t.missed {
		is.last = max(is.last, id)
	}
	var last int64
	err := s.tx.QueryRowContext(ctx, "SELECT coalesce(max(rowid), 0) FROM "+t.name).Scan(&last)
	is.last = max(is.last, last)
	for _, told := range s.told {
		if more := told.last - is.last; told.table == t.name && more > 0 {
			t.sum.Lost += more
		}
	}
	for _, rows := range beyond(s.told, []tallied{is}) {
		s.lost("%s: acknowledged, and neither in the file nor in its log", rows)
	}
	return err
}

// loseMissing lists the rows that only an index names, and reports whether it is believed.
func (s *salvage) loseMissing(ctx context.Context, t *salvageTable, x *salvageIndex) (bool, error) {
	missing, believed, err := s.missing(ctx, t, x)
	for id, values := range missing {
		if believed && t.missed[id] == "" {
			t.lose(id, "lost; "+t.describe(x, values))
		}
	}
	return believed, err
}

// missing returns the entries of an index for which the new book has no row, by number
// of the row. An index that contradicts a row is not believed.
func (s *salvage) missing(ctx context.Context, t *salvageTable, x *salvageIndex) (entries map[int64][]any, believed bool, err error) {
	entries, believed = map[int64][]any{}, true
	s.entries(x, func(id int64, values []any) {
		if err != nil {
			return
		}
		var row []any
		if row, err = s.held(ctx, t, id); row == nil || t.standIns[id] {
			entries[id] = values
		} else if !x.same(values, row) {
			believed = false
		}
	})
	return entries, believed, err
}

// describe says what an index knows of a row.
func (t *salvageTable) describe(x *salvageIndex, values []any) string {
	var parts []string
	for i, column := range x.columns {
		c := t.columns[column]
		if c.number {
			continue
		}
		text := fmt.Sprint(values[i])
		if ns, ok := values[i].(int64); ok && strings.HasSuffix(c.name, "_ns") {
			text = at(ns).Format(time.RFC3339)
		}
		parts = append(parts, strings.TrimSuffix(c.name, "_ns")+" "+text)
	}
	return strings.Join(parts, ", ")
}
