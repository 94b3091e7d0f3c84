package book

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"evenbeat/sessions/book/pages"
)

// salvage is one run of Salvage.
type salvage struct {
	f      *pages.File
	tx     *sql.Tx // of the new book
	report *Salvaged
	tables []*salvageTable     // those that others refer to come first
	schema bool                // whether the file's own list of tables is whole
	chunks []foundChunk        // that hold no beats twice, by session and first beat
	begun  map[int64]beginning // of sessions, as their index tells it
	told   []tallied           // beside the file, of what was acknowledged
}

// salvageTable is a table of the newest layout, and what the damaged file has of it.
type salvageTable struct {
	name     string
	columns  []salvageColumn
	indices  []*salvageIndex
	claimed  map[uint32]bool // pages that its tree names
	leaves   []leaf
	rooted   bool             // the file names its tree
	whole    bool             // its tree is there, to the last page
	missed   map[int64]string // rows that are lost, and why or what is known of them
	standIns map[int64]bool   // rows that were put in place of lost ones
	sum      SalvagedTable
}

type salvageColumn struct {
	name, kind string
	number     bool // the row's own number, which stands beside the record
	notNull    bool
	missing    any // its value in rows from before the column was added
}

// salvageIndex is an index: it names the rows of its table.
type salvageIndex struct {
	columns []int           // of the table
	held    map[int64][]any // its entries, where a page is to be decided by them
	root    uint32
	whole   bool
}

// leaf is a page of a table's rows.
type leaf struct {
	page    uint32
	first   int64 // number of its first row
	claimed bool
}

// added are how many columns at a table's end a later layout added: rows from before
// end without them.
var added = map[string]int{"readings": 2, "reference_times": 1}

// shapes asks the new book for its tables.
func (s *salvage) shapes(ctx context.Context) error {
	text := func(rows *sql.Rows) (t string, err error) { return t, rows.Scan(&t) }
	names, err := collect(ctx, s.tx, text, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY rowid")
	if err != nil {
		return err
	}
	for _, name := range names {
		t := &salvageTable{name: name, claimed: map[uint32]bool{}, sum: SalvagedTable{Table: name}}
		t.columns, err = collect(ctx, s.tx, func(rows *sql.Rows) (c salvageColumn, err error) {
			var zero sql.NullInt64 // the only default that an added column has
			err = rows.Scan(&c.name, &c.kind, &c.notNull, &zero, &c.number)
			if zero.Valid {
				c.missing = zero.Int64
			}
			return c, err
		}, `SELECT name, type, "notnull", dflt_value, pk FROM pragma_table_info(?)`, name)
		if err != nil {
			return err
		}
		s.tables = append(s.tables, t)
	}
	return nil
}

// survey finds what the file has of each table.
func (s *salvage) survey(ctx context.Context) error {
	if err := s.shapes(ctx); err != nil {
		return err
	}
	s.readSchema(ctx)
	var open []uint32 // pages that may be of several tables
	for n := uint32(1); n <= s.f.Count; n++ {
		p, ok := s.f.Page(n)
		if !ok || p.Kind != pages.TableLeaf || len(p.Cells) == 0 {
			continue
		}
		if fit := s.fit(p); len(fit) == 1 {
			fit[0].add(n, p)
		} else if len(fit) > 1 {
			open = append(open, n)
		}
	}
	for _, n := range open {
		if p, ok := s.f.Page(n); ok {
			s.decide(n, p)
		}
	}
	for _, t := range s.tables {
		// Pages that no tree names come last: some are left over from rows that moved.
		slices.SortStableFunc(t.leaves, func(a, b leaf) int {
			return cmp.Or(b2i(b.claimed)-b2i(a.claimed), cmp.Compare(a.first, b.first))
		})
	}
	return nil
}

// readSchema reads what the file says of its tables and indices.
func (s *salvage) readSchema(ctx context.Context) {
	s.schema = s.f.Walk(1, pages.TableInner, func(_ uint32, p *pages.Page) {
		if p == nil || p.Kind != pages.TableLeaf {
			return
		}
		for _, c := range p.Cells {
			payload, whole := s.f.Payload(c)
			if row, ok := pages.Values(payload); ok && whole {
				s.known(ctx, row)
			}
		}
	})
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// known takes a row of the file's own schema: kind, name, table, root page, text.
func (s *salvage) known(ctx context.Context, row []any) {
	if len(row) != 5 {
		return
	}
	name, _ := row[1].(string)
	of, _ := row[2].(string)
	root, _ := row[3].(int64)
	at := slices.IndexFunc(s.tables, func(t *salvageTable) bool { return t.name == of })
	if at < 0 || root <= 1 || root > int64(s.f.Count) {
		return
	}
	t := s.tables[at]
	switch row[0] {
	case "table":
		fits := true
		t.rooted = true
		whole := s.f.Walk(uint32(root), pages.TableInner, func(n uint32, p *pages.Page) {
			if p != nil && p.Kind == pages.TableLeaf {
				t.claimed[n] = true
				fits = fits && t.fits(p)
			}
		})
		t.whole = whole && fits
	case "index":
		columns, err := collect(ctx, s.tx, func(rows *sql.Rows) (n int, err error) { return n, rows.Scan(&n) },
			"SELECT cid FROM pragma_index_info(?) ORDER BY seqno", name)
		if err != nil || len(columns) == 0 {
			return
		}
		x := &salvageIndex{columns: columns, root: uint32(root)}
		x.whole = s.f.Walk(x.root, pages.IndexInner, func(uint32, *pages.Page) {})
		t.indices = append(t.indices, x)
	}
}

// fit returns the tables whose columns a page's rows have.
func (s *salvage) fit(p *pages.Page) []*salvageTable {
	var fit []*salvageTable
	for _, t := range s.tables {
		if t.fits(p) {
			fit = append(fit, t)
		}
	}
	return fit
}

func (t *salvageTable) add(n uint32, p *pages.Page) {
	t.leaves = append(t.leaves, leaf{n, p.Cells[0].RowID, t.claimed[n]})
}

// decide gives a page that fits several tables to the one for which most speaks: the
// table's tree, its index, and what the rows say.
func (s *salvage) decide(n uint32, p *pages.Page) {
	fit := s.fit(p)
	var names []string
	var best []*salvageTable
	most := -1
	for _, t := range fit {
		votes := b2i(t.claimed[n]) + b2i(s.indexed(t, p)) + b2i(s.likely(t, p))
		if votes > most {
			best, most = nil, votes
		}
		if votes == most {
			best = append(best, t)
		}
		names = append(names, t.name)
	}
	if len(best) > 1 {
		s.lost("page %d: its rows (%d) are of %s, and nothing tells of which", n, len(p.Cells), strings.Join(names, " or "))
		return
	}
	best[0].add(n, p)
	for _, t := range fit {
		t.whole = t.whole && (t == best[0] || !t.claimed[n])
	}
}

// fits reports whether each row of a page has the columns of the table.
func (t *salvageTable) fits(p *pages.Page) bool {
	for _, c := range p.Cells {
		types, ok := c.Types()
		if !ok || len(types) > len(t.columns) || len(types) < len(t.columns)-added[t.name] {
			return false
		}
		for i, kind := range types {
			if !t.columns[i].takes(kind) {
				return false
			}
		}
	}
	return true
}

// takes reports whether a column can hold a value of SQLite's serial type. A real number
// without a fraction lies as an integer of up to six bytes.
func (c salvageColumn) takes(kind uint64) bool {
	integer := kind >= 1 && kind <= 6 || kind == 8 || kind == 9
	switch {
	case c.number:
		return kind == 0
	case kind == 0:
		return !c.notNull
	case c.kind == "INTEGER":
		return integer
	case c.kind == "REAL":
		return kind == 7 || integer && kind != 6
	case c.kind == "TEXT":
		return kind >= 13 && kind%2 == 1
	}
	return kind >= 12 && kind%2 == 0
}

// lost adds a sentence on what is lost.
func (s *salvage) lost(format string, args ...any) {
	s.report.Lost = append(s.report.Lost, fmt.Sprintf(format, args...))
}
