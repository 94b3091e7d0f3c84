package book

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"evenbeat/sessions"
)

// Thing is what a row can be that is taken back after it was recorded.
type Thing string

// The things that can be taken back.
const (
	ThingReading Thing = "reading"
	ThingCheck   Thing = "check"
	ThingNote    Thing = "note"
	ThingAir     Thing = "air"
	ThingSession Thing = "session"

	ThingParticular Thing = "particular"
)

// Things lists them, in the order in which help names them.
func Things() []Thing {
	return []Thing{ThingReading, ThingCheck, ThingNote, ThingAir, ThingSession, ThingParticular}
}

// table returns the table that holds such things.
func (t Thing) table() string {
	switch t {
	case ThingAir:
		return "air"
	case ThingNote:
		return "events"
	}
	return string(t) + "s"
}

// Withdraw takes back what was recorded: it stays in the book, and out of every sum. A
// session takes its readings or beats with it, and one of the air its air. To withdraw a
// thing twice is no error.
func (b *Book) Withdraw(ctx context.Context, t Thing, id int64, why string) error {
	if !slices.Contains(Things(), t) {
		return inputError(b.path, "a %s can't be taken back", t)
	}
	if t == ThingReading {
		return b.Undo(ctx, id, why)
	}
	return b.write(ctx, "taking back a "+string(t), func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, string(t), t.table(), id); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO withdrawals (at_ns, thing, row_id, why) SELECT ?1, ?2, ?3, ?4
  WHERE NOT EXISTS (SELECT 1 FROM withdrawals WHERE thing = ?2 AND row_id = ?3)`, b.now().UnixNano(), string(t), id, why)
		if err == nil && t == ThingSession {
			err = b.withdrawAir(ctx, tx, id, fmt.Sprintf("session %d was taken back", id))
		}
		return err
	})
}

// airOf are the rows of the air that a session of the air alone recorded and that stand. A
// row names no session, so they are those of its clock from its beginning to its end. One
// that was cut off ends where the clock's next begins.
const airOf = ` FROM sessions s LEFT JOIN session_ends e ON e.session_id = s.id` + latestMove + `s.id)
  JOIN air a ON a.clock_id = coalesce(m.clock_id, s.clock_id) AND a.at_ns BETWEEN s.started_ns AND coalesce(e.ended_ns,
    (SELECT min(n.started_ns) - 1 FROM sessions n WHERE n.kind = 'air' AND n.clock_id = s.clock_id AND n.started_ns > s.started_ns), 9223372036854775807)
WHERE s.id = ?1 AND s.kind = 'air' AND a.id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'air')`

// withdrawAir takes back the air of a session.
func (b *Book) withdrawAir(ctx context.Context, tx *sql.Tx, session int64, why string) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO withdrawals (at_ns, thing, row_id, why) SELECT ?2, 'air', a.id, ?3"+airOf, session, b.now().UnixNano(), why)
	return err
}

// moveAir has the air of a session stand under another clock: in new rows, since none is
// changed.
func (b *Book) moveAir(ctx context.Context, tx *sql.Tx, session, clockID int64) error {
	done, err := tx.ExecContext(ctx, "INSERT INTO air (clock_id, at_ns, temperature_c, pressure_hpa, humidity_pct) SELECT ?2, a.at_ns, a.temperature_c, a.pressure_hpa, a.humidity_pct"+
		airOf+" AND a.clock_id <> ?2", session, clockID)
	if err != nil {
		return err
	}
	if n, err := done.RowsAffected(); err != nil || n == 0 {
		return err
	}
	return b.withdrawAir(ctx, tx, session, fmt.Sprintf("session %d was moved", session))
}

// MoveSession tags a session to another clock or part, with all that was recorded in it.
func (b *Book) MoveSession(ctx context.Context, id, clockID int64, part string) error {
	return b.write(ctx, "moving a session", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "session", "sessions", id); err != nil {
			return err
		}
		if err := b.must(ctx, tx, "clock", "clocks", clockID); err != nil {
			return err
		}
		if err := b.moveAir(ctx, tx, id, clockID); err != nil {
			return err
		}
		_, err := insert(ctx, tx, "INSERT INTO session_moves (session_id, at_ns, clock_id, part) VALUES (?, ?, ?, ?)", id, b.now().UnixNano(), clockID, part)
		return err
	})
}

// withdrawn returns why each thing of a kind was taken back, by its number.
func (b *Book) withdrawn(ctx context.Context, t Thing) (map[int64]string, error) {
	if err := b.whole(ctx, "withdrawals"); err != nil {
		return nil, err
	}
	why := map[int64]string{}
	_, err := query(ctx, b, "reading what was taken back", func(rows *sql.Rows) (struct{}, error) {
		var id int64
		var text string
		err := rows.Scan(&id, &text)
		why[id] = text
		return struct{}{}, err
	}, "SELECT row_id, why FROM withdrawals WHERE thing = ?", string(t))
	return why, err
}

// part splits rows into those that stand and those that were taken back.
func part[T any](ctx context.Context, b *Book, t Thing, all []T, id func(T) int64) (stand []T, taken []sessions.TakenBack[T], err error) {
	why, err := b.withdrawn(ctx, t)
	if err != nil || len(why) == 0 {
		return all, nil, err
	}
	for _, row := range all {
		if words, ok := why[id(row)]; ok {
			taken = append(taken, sessions.TakenBack[T]{Row: row, Why: words})
		} else {
			stand = append(stand, row)
		}
	}
	return stand, taken, nil
}

// undoWithSessions marks the readings of sessions that were taken back as undone.
func (b *Book) undoWithSessions(ctx context.Context, readings []sessions.Reading) error {
	why, err := b.withdrawn(ctx, ThingSession)
	if err != nil {
		return err
	}
	for i := range readings {
		r := &readings[i]
		if _, ok := why[r.SessionID]; ok && r.State != sessions.Undone {
			r.State, r.Why = sessions.Undone, fmt.Sprintf("session %d was taken back", r.SessionID)
		}
	}
	return nil
}
