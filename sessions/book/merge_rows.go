package book

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"evenbeat/sessions"
)

// merging is one run of Merge.
type merging struct {
	into, from *Book
	tx, other  *sql.Tx           // of both
	photos     map[string]string // new names of the other's
	report     *Merged
	ids        map[string]map[int64]int64 // by table: the number in the other book, and in this one
}

// mergeTable is how the rows of a table are known again.
type mergeTable struct {
	name string
	// refers names the table in which a column's number is one of a row.
	refers map[string]string
	// same are the columns in which a row and its like agree; all but the number, if nil.
	same []string
	// once: a row and its like are one, however often either book has them.
	once bool
}

var ofClockAlone = map[string]string{"clock_id": "clocks"}
var ofSession = map[string]string{"session_id": "sessions"}

// mergeTables are those without rules of their own, in an order in which what a row points
// at comes first.
func mergeTables() []mergeTable {
	return []mergeTable{
		{name: "session_ends", refers: ofSession, same: []string{"session_id"}, once: true},
		{name: "marks", refers: map[string]string{"reading_id": "readings"}, same: []string{"reading_id", "state"}, once: true},
		{name: "faults", refers: ofSession},
		{name: "reference_times", refers: ofSession},
		{name: "host_readings", refers: ofSession},
		{name: "checks", refers: ofClockAlone},
		{name: "events", refers: ofClockAlone, same: []string{"clock_id", "at_ns", "kind", "turns", "text"}}, // an export has no more
		{name: "air", refers: ofClockAlone},
	}
}

func (m *merging) all(ctx context.Context) error {
	if err := m.clocks(ctx); err != nil {
		return err
	}
	if err := m.sessions(ctx); err != nil {
		return err
	}
	if err := m.readings(ctx); err != nil {
		return err
	}
	for _, t := range mergeTables() {
		if err := m.rows(ctx, t); err != nil {
			return err
		}
	}
	particulars := mergeTable{name: "particulars", refers: ofClockAlone}
	if err := m.rowsAs(ctx, particulars, func(r rawRow) {
		m.translate(r, particulars.refers)
		if name, ok := (*r.at("value")).(string); ok && *r.at("name") == any(sessions.Photo) && m.photos[name] != "" {
			*r.at("value") = m.photos[name]
		}
	}); err != nil {
		return err
	}
	if err := m.withdrawals(ctx); err != nil {
		return err
	}
	moves := mergeTable{name: "session_moves", refers: map[string]string{"session_id": "sessions", "clock_id": "clocks"}, once: true}
	return m.ruling(ctx, "session_moves", "session_id", "at_ns", func(r rawRow) { m.translate(r, moves.refers) },
		func() error { return m.rows(ctx, moves) })
}

// count tells of rows of a table, or of beats.
func (m *merging) count(table string, added, known int64) {
	m.report.Added += added
	m.report.Known += known
	i := slices.IndexFunc(m.report.Tables, func(t MergedTable) bool { return t.Table == table })
	if i < 0 {
		i = len(m.report.Tables)
		m.report.Tables = append(m.report.Tables, MergedTable{Table: table})
	}
	m.report.Tables[i].Added += added
	m.report.Tables[i].Known += known
}

// met notes which row of this book one of the other is.
func (m *merging) met(table string, theirs, mine int64) {
	if m.ids[table] == nil {
		m.ids[table] = map[int64]int64{}
	}
	m.ids[table][theirs] = mine
}

// rawRow is a row by its columns, the number first. A table without a number of its own has
// that of what it points at.
type rawRow struct {
	columns []string
	values  []any
}

func (r rawRow) id() int64 {
	id, _ := r.values[0].(int64)
	return id
}

func (r rawRow) at(column string) *any { return &r.values[slices.Index(r.columns, column)] }

// fingerprint tells rows with other values in these columns apart.
func (r rawRow) fingerprint(same []string) [16]byte {
	var text strings.Builder
	for _, c := range same {
		fmt.Fprintf(&text, "%#v\x00", *r.at(c))
	}
	sum := sha256.Sum256([]byte(text.String()))
	return [16]byte(sum[:16])
}

// each hands on the rows of a table in the order of their numbers; what follows its name
// in table may bound them. A row is used again.
func each(ctx context.Context, tx *sql.Tx, table string, take func(rawRow) error) error {
	rows, err := tx.QueryContext(ctx, "SELECT * FROM "+table+" ORDER BY rowid")
	if err != nil {
		return err
	}
	defer rows.Close()
	r := rawRow{}
	if r.columns, err = rows.Columns(); err != nil {
		return err
	}
	r.values = make([]any, len(r.columns))
	to := make([]any, len(r.columns))
	for i := range to {
		to[i] = &r.values[i]
	}
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			return err
		}
		if err := take(r); err != nil {
			return err
		}
	}
	return rows.Err()
}

// translate gives a row of the other book the numbers that what it points at has in this one.
func (m *merging) translate(r rawRow, refers map[string]string) {
	for column, table := range refers {
		if at := r.at(column); *at != nil {
			*at = m.ids[table][(*at).(int64)]
		}
	}
}

// put adds a row of the other book that was translated, under its number if that lies
// behind the last here, else under a new one. So an empty book gets the other's numbers,
// and the newest row stays the last.
func (m *merging) put(ctx context.Context, table string, r rawRow) (int64, error) {
	first := "?"
	if r.columns[0] == "id" {
		first = "iif(?1 > (SELECT coalesce(max(id), 0) FROM " + table + "), ?1, NULL)"
	}
	return insert(ctx, m.tx, "INSERT INTO "+table+" ("+strings.Join(r.columns, ", ")+") VALUES ("+first+strings.Repeat(", ?", len(r.columns)-1)+")", r.values...)
}

// rows adds those rows of a table that this book doesn't hold.
func (m *merging) rows(ctx context.Context, t mergeTable) error {
	return m.rowsAs(ctx, t, func(r rawRow) { m.translate(r, t.refers) })
}

// rowsAs is rows with a rule of what a row of the other book would be in this one.
func (m *merging) rowsAs(ctx context.Context, t mergeTable, here func(rawRow)) error {
	mine := map[[16]byte][]int64{}
	if err := each(ctx, m.tx, t.name, func(r rawRow) error {
		if t.same == nil {
			t.same = r.columns[1:]
		}
		f := r.fingerprint(t.same)
		mine[f] = append(mine[f], r.id())
		return nil
	}); err != nil {
		return err
	}
	return each(ctx, m.other, t.name, func(r rawRow) error {
		if t.same == nil {
			t.same = r.columns[1:]
		}
		theirs := r.id()
		here(r)
		f := r.fingerprint(t.same)
		if like := mine[f]; len(like) > 0 {
			m.met(t.name, theirs, like[0])
			if !t.once {
				mine[f] = like[1:]
			}
			m.count(t.name, 0, 1)
			return nil
		}
		id, err := m.put(ctx, t.name, r)
		if err != nil {
			return err
		}
		if t.once {
			mine[f] = []int64{id}
		}
		m.met(t.name, theirs, id)
		m.count(t.name, 1, 0)
		return nil
	})
}

// withdrawals takes back here what was taken back there.
func (m *merging) withdrawals(ctx context.Context) error {
	tables := map[any]string{}
	for _, t := range Things() {
		tables[string(t)] = t.table()
	}
	return each(ctx, m.other, "withdrawals", func(r rawRow) error {
		m.translate(r, map[string]string{"row_id": tables[*r.at("thing")]})
		var known bool
		err := m.tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM withdrawals WHERE thing = ? AND row_id = ?)", *r.at("thing"), *r.at("row_id")).Scan(&known)
		if err != nil || known {
			m.count("withdrawals", 0, int64(b2i(known)))
			return err
		}
		m.count("withdrawals", 1, 0)
		_, err = m.put(ctx, "withdrawals", r)
		return err
	})
}

// ruling does add, which adds rows to a table of which the last of each thing rules. Then
// the newer of the two that ruled in either book is the last, said once more if need be.
func (m *merging) ruling(ctx context.Context, table, thing, time string, here func(rawRow), add func() error) error {
	mine, err := lasts(ctx, m.tx, table, thing, nil)
	if err != nil {
		return err
	}
	theirs, err := lasts(ctx, m.other, table, thing, here)
	if err != nil {
		return err
	}
	before := m.report.Added
	if err := add(); err != nil || m.report.Added == before {
		return err
	}
	now, err := lasts(ctx, m.tx, table, thing, nil)
	if err != nil {
		return err
	}
	for of, r := range theirs {
		if own, ok := mine[of]; ok && (*own.at(time)).(int64) >= (*r.at(time)).(int64) {
			r = own
		}
		if slices.Equal(r.values[1:], now[of].values[1:]) {
			continue
		}
		if _, err := m.put(ctx, table, r); err != nil {
			return err
		}
	}
	return nil
}

// lasts returns the last row of each thing in a table, as here would have it.
func lasts(ctx context.Context, tx *sql.Tx, table, thing string, here func(rawRow)) (map[any]rawRow, error) {
	last := map[any]rawRow{}
	return last, each(ctx, tx, table, func(r rawRow) error {
		if here != nil {
			here(r)
		}
		last[*r.at(thing)] = rawRow{r.columns, slices.Clone(r.values)}
		return nil
	})
}
