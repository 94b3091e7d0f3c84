package book

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// beginning is what the index of the sessions tells of one.
type beginning struct{ clock, started int64 }

// parents sees to it that the clock and the session that a row names are in the new
// book. Where one is lost, and its number and time are known, another takes its place,
// so that the row can be kept. All else of that one stays empty.
func (s *salvage) parents(ctx context.Context, t *salvageTable, row []any) error {
	var clock, session, ns int64
	for i, c := range t.columns {
		v, _ := row[i].(int64)
		switch {
		case c.name == "clock_id":
			clock = v
		case c.name == "session_id":
			session = v
		case ns == 0 && strings.HasSuffix(c.name, "_ns"):
			ns = v
		}
	}
	if clock != 0 {
		if err := s.clock(ctx, clock, ns, t.name != "clock_versions"); err != nil {
			return err
		}
	}
	if session == 0 {
		return nil
	}
	from := beginning{}
	if t.name == "readings" { // a session's readings are of its clock
		from = beginning{clock, ns}
	}
	return s.session(ctx, session, from)
}

func (s *salvage) has(ctx context.Context, table string, id int64) (bool, error) {
	var has bool
	err := s.tx.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM "+table+" WHERE rowid = ?)", id).Scan(&has)
	return has, err
}

// clock puts a clock in the place of a lost one, added at ns for all that is known.
func (s *salvage) clock(ctx context.Context, id, ns int64, describe bool) error {
	if has, err := s.has(ctx, "clocks", id); has || err != nil {
		return err
	}
	if err := s.standIn(ctx, "clocks", "INSERT INTO clocks VALUES (?, ?)", id, ns); err != nil {
		return err
	}
	s.table("clocks").lose(id, "lost; the time of the first row that names the clock stands for when it was added")
	if !describe {
		return nil
	}
	return s.describeClock(ctx, id, ns)
}

// describeAll gives a name to each clock of which every description is lost.
func (s *salvage) describeAll(ctx context.Context) error {
	nameless, err := collect(ctx, s.tx, func(rows *sql.Rows) (c [2]int64, err error) { return c, rows.Scan(&c[0], &c[1]) },
		"SELECT id, created_ns FROM clocks WHERE id NOT IN (SELECT clock_id FROM clock_versions)")
	for _, c := range nameless {
		if err == nil {
			err = s.describeClock(ctx, c[0], c[1])
		}
	}
	return err
}

func (s *salvage) describeClock(ctx context.Context, id, ns int64) error {
	name := fmt.Sprintf("Clock %d (description lost)", id)
	s.lost("clock %d: its description is lost; it is named %q, without train, rod and nut: describe it anew with evenbeat clock edit", id, name)
	return s.standIn(ctx, "clock_versions", `INSERT INTO clock_versions
  (clock_id, written_ns, name, train, beats_per_hour, beats_per_tooth, hour_arbor, rod, nut_pitch_m, zone)
  VALUES (?, ?, ?, '', 0, 0, 0, '', 0, '')`, id, ns, name)
}

// session puts a session in the place of a lost one, where its clock and its beginning
// are known.
func (s *salvage) session(ctx context.Context, id int64, from beginning) error {
	if has, err := s.has(ctx, "sessions", id); has || err != nil {
		return err
	}
	if told, ok := s.beginnings()[id]; ok {
		from = told
	}
	if from.clock == 0 {
		var err error
		if from, err = s.heard(ctx, id); from.clock == 0 || err != nil {
			return err // the book refuses the row then, and says why
		}
	}
	if err := s.clock(ctx, from.clock, from.started, true); err != nil {
		return err
	}
	kind := "measure"
	for _, c := range s.chunks {
		if c.session == id {
			kind = "time"
		}
	}
	s.table("sessions").lose(id, fmt.Sprintf("lost; its rows are kept in a session of that number, of clock %d from %s on, of which no more is known",
		from.clock, at(from.started).Format(time.RFC3339)))
	return s.standIn(ctx, "sessions", `INSERT INTO sessions
  (id, clock_id, kind, part, plan, port, profile, started_ns, count_rate, count_bits, host_synced, host_known, host_max_error_s)
  VALUES (?, ?, ?, '', '', '', '', ?, 0, 0, 0, 0, 0)`, id, from.clock, kind, from.started)
}

// beginnings are those of all sessions that their index names.
func (s *salvage) beginnings() map[int64]beginning {
	if s.begun != nil {
		return s.begun
	}
	s.begun = map[int64]beginning{}
	t := s.table("sessions")
	for _, x := range t.indices {
		if len(x.columns) != 2 || t.columns[x.columns[0]].name != "clock_id" || t.columns[x.columns[1]].name != "started_ns" {
			continue
		}
		s.entries(x, func(id int64, values []any) {
			clock, ok := values[0].(int64)
			if started, also := values[1].(int64); ok && also {
				s.begun[id] = beginning{clock, started}
			}
		})
	}
	return s.begun
}

// heard tells the clock and the beginning of a timing session by its first beats, in a
// book of one clock.
func (s *salvage) heard(ctx context.Context, id int64) (from beginning, err error) {
	for _, c := range s.chunks {
		if c.session != id {
			continue
		}
		p, _ := s.f.Page(c.page)
		row, _ := s.row(s.table("beat_chunks"), p.Cells[c.cell])
		beats, err := decodeChunk(nil, row[4].([]byte))
		if err != nil {
			return from, err
		}
		clocks, err := collect(ctx, s.tx, func(rows *sql.Rows) (n int64, err error) { return n, rows.Scan(&n) }, "SELECT id FROM clocks")
		if err == nil && len(clocks) == 1 {
			from = beginning{clocks[0], beats[0].HostUTC}
		}
		return from, err
	}
	return from, nil
}

// standIn puts a row in the place of a lost one.
func (s *salvage) standIn(ctx context.Context, table, stmt string, args ...any) error {
	id, err := insert(ctx, s.tx, stmt, args...)
	t := s.table(table)
	if t.standIns == nil {
		t.standIns = map[int64]bool{}
	}
	t.standIns[id] = true
	return err
}
