package book

import (
	"math"
	"reflect"

	"evenbeat/sessions/book/pages"
)

// row reads a row as the newest layout has it, and reports whether it is whole.
func (s *salvage) row(t *salvageTable, c pages.Cell) ([]any, bool) {
	payload, whole := s.f.Payload(c)
	if !whole {
		return nil, false
	}
	row, ok := pages.Values(payload)
	if !ok {
		return nil, false
	}
	for i := len(row); i < len(t.columns); i++ {
		row = append(row, t.columns[i].missing)
	}
	for i, col := range t.columns {
		if col.number {
			row[i] = c.RowID
		} else if v, whole := row[i].(int64); whole && col.kind == "REAL" {
			row[i] = float64(v)
		}
	}
	return row, true
}

// rows hands on the rows of a page.
func (s *salvage) rows(t *salvageTable, p *pages.Page, take func(id int64, row []any, whole bool)) {
	for _, c := range p.Cells {
		row, whole := s.row(t, c)
		take(c.RowID, row, whole)
	}
}

// all hands on the whole rows of a table, as far as its pages are known.
func (s *salvage) all(name string, take func(row []any)) {
	t := s.table(name)
	for _, l := range t.leaves {
		if p, ok := s.f.Page(l.page); ok {
			s.rows(t, p, func(_ int64, row []any, whole bool) {
				if whole {
					take(row)
				}
			})
		}
	}
}

func (s *salvage) table(name string) *salvageTable {
	for _, t := range s.tables {
		if t.name == name {
			return t
		}
	}
	return &salvageTable{}
}

// entries hands on the entries of an index: the values of its columns and the number of
// the row. It reports whether each page has such entries.
func (s *salvage) entries(x *salvageIndex, take func(id int64, values []any)) bool {
	sound := true
	s.f.Walk(x.root, pages.IndexInner, func(_ uint32, p *pages.Page) {
		if p == nil {
			return
		}
		for _, c := range p.Cells {
			payload, whole := s.f.Payload(c)
			values, ok := pages.Values(payload)
			if !whole || !ok || len(values) != len(x.columns)+1 {
				sound = false
				return
			}
			id, ok := values[len(x.columns)].(int64)
			if !ok {
				sound = false
				return
			}
			take(id, values[:len(x.columns)])
		}
	})
	return sound
}

// indexed reports whether an index of the table has each row of the page.
func (s *salvage) indexed(t *salvageTable, p *pages.Page) bool {
	for _, x := range t.indices {
		if x.held == nil {
			x.held = map[int64][]any{}
			s.entries(x, func(id int64, values []any) { x.held[id] = values })
		}
		has := true
		s.rows(t, p, func(id int64, row []any, whole bool) {
			values, held := x.held[id]
			has = has && whole && held && x.same(values, row)
		})
		if has {
			return true
		}
	}
	return false
}

// same reports whether an entry of the index is that of the row.
func (x *salvageIndex) same(values, row []any) bool {
	for i, column := range x.columns {
		want := row[column]
		if v, whole := values[i].(int64); whole {
			if _, number := want.(float64); number {
				values[i] = float64(v)
			}
		}
		if !reflect.DeepEqual(values[i], want) {
			return false
		}
	}
	return true
}

// likely reports whether what the rows of a page say is what the table's rows say. It
// is for the tables that have the same kinds of columns.
func (s *salvage) likely(t *salvageTable, p *pages.Page) bool {
	var test func(row []any) bool
	switch t.name {
	case "clocks": // each was described, and not before it was added
		described := s.times("clock_versions", 1, 2)
		test = func(row []any) bool {
			at, ok := described[row[0].(int64)]
			return ok && row[1].(int64) <= at
		}
	case "session_ends":
		started := s.times("sessions", 0, 7)
		test = func(row []any) bool {
			at, ok := started[row[0].(int64)]
			return ok && at <= row[1].(int64)
		}
	case "marks":
		test = func(row []any) bool { return row[3] == "undone" }
	case "faults":
		test = func(row []any) bool { return row[3] != "undone" }
	case "reference_times": // a time, where air and checks have a temperature or an error
		test = func(row []any) bool { return row[4].(int64) > 1e15 }
	case "checks", "air":
		test = func(row []any) bool {
			v, some := row[4].(float64)
			return !some || math.Abs(v) <= 1e15
		}
	default:
		return false
	}
	likely := true
	s.rows(t, p, func(_ int64, row []any, whole bool) { likely = likely && whole && test(row) })
	return likely
}

// times returns the earliest time in one column of a table for each number in another.
func (s *salvage) times(name string, number, at int) map[int64]int64 {
	first := map[int64]int64{}
	s.all(name, func(row []any) {
		id, ns := row[number].(int64), row[at].(int64)
		if was, ok := first[id]; !ok || ns < was {
			first[id] = ns
		}
	})
	return first
}
