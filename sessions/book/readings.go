package book

import (
	"context"
	"database/sql"
	"slices"

	"evenbeat/sessions"
)

// AddReading records a reading and returns its number once it is on the disk.
// SessionID 0 means that it comes from elsewhere (an import).
func (b *Book) AddReading(ctx context.Context, r sessions.Reading) (int64, error) {
	return add(ctx, b, "recording a reading", r, b.addReading)
}

// addWithState is addReading for one that may be undone already.
func (b *Book) addWithState(ctx context.Context, tx runner, r sessions.Reading) (int64, error) {
	undone := r.State == sessions.Undone
	if undone {
		r.State = sessions.Kept
	}
	id, err := b.addReading(ctx, tx, r)
	if err == nil && undone {
		err = b.mark(ctx, tx, id, sessions.Undone, r.Why)
	}
	return id, err
}

func (b *Book) addReading(ctx context.Context, tx runner, r sessions.Reading) (int64, error) {
	what := "reading " + r.Dimension
	if r.Dimension == "" {
		return 0, inputError(b.path, "a reading needs a dimension")
	}
	if !r.KindGuessed && !slices.Contains(sessions.Kinds(), r.Kind) {
		return 0, inputError(b.path, "%s: kind %q is not known", what, r.Kind)
	}
	if r.State != sessions.Kept && r.State != sessions.Doubtful {
		return 0, inputError(b.path, "%s: state %q: a new reading is %s or %s", what, r.State, sessions.Kept, sessions.Doubtful)
	}
	if r.SessionID != 0 {
		if err := b.must(ctx, tx, "session", "sessions", r.SessionID); err != nil {
			return 0, err
		}
	}
	numbers := []number{anySign("value", r.Value), positive("uncertainty", r.U), positive("limit of error", r.Limit), positive("step", r.Step)}
	return b.insertOf(ctx, tx, ofClock{what, r.ClockID, r.At, numbers}, `INSERT INTO readings
  (clock_id, at_ns, session_id, part, dimension, kind, value, u, u_form, limit_pm, step, text, instrument, state, why)
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		idOrNull(r.SessionID), r.Part, r.Dimension, sql.NullString{String: string(r.Kind), Valid: !r.KindGuessed},
		r.Value, r.U, sql.NullString{String: r.UForm(), Valid: r.UForm() != ""}, r.Limit, r.Step, r.Text, r.Instrument, string(r.State), r.Why)
}

// Undo marks a reading as undone: it stays in the book and out of every sum. To
// undo it twice is no error.
func (b *Book) Undo(ctx context.Context, readingID int64, why string) error {
	return b.write(ctx, "undoing a reading", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "reading", "readings", readingID); err != nil {
			return err
		}
		return b.mark(ctx, tx, readingID, sessions.Undone, why)
	})
}

func (b *Book) mark(ctx context.Context, tx runner, readingID int64, state sessions.State, why string) error {
	var n int
	err := tx.QueryRowContext(ctx, "SELECT count(*) FROM marks WHERE reading_id = ? AND state = ?", readingID, string(state)).Scan(&n)
	if err != nil || n > 0 {
		return err
	}
	_, err = insert(ctx, tx, "INSERT INTO marks (reading_id, at_ns, state, why) VALUES (?, ?, ?, ?)",
		readingID, b.now().UnixNano(), string(state), why)
	return err
}

// Readings returns a clock's readings in order of time, each in its present state. Those
// of a session that was taken back are undone, and so are those of what was replaced since.
func (b *Book) Readings(ctx context.Context, clockID int64) ([]sessions.Reading, error) {
	all, err := query(ctx, b, "reading the readings", scanReading, readingRows+`
WHERE coalesce(m.clock_id, r.clock_id) = ? ORDER BY r.at_ns, r.id`, clockID)
	if err != nil {
		return nil, err
	}
	if err := b.undoWithSessions(ctx, all); err != nil {
		return nil, err
	}
	events, err := query(ctx, b, "reading the events", scanEvent, eventRows+" WHERE clock_id = ? AND kind = ? ORDER BY at_ns, id", clockID, sessions.EventReplaced)
	if err != nil || len(events) == 0 {
		return all, err
	}
	stand, _, err := part(ctx, b, ThingNote, events, func(e sessions.Event) int64 { return e.ID })
	sessions.SetAside(all, stand)
	return all, err
}

const readingRows = `SELECT r.id, coalesce(r.session_id, 0), coalesce(m.clock_id, r.clock_id), r.at_ns, coalesce(m.part, r.part), r.dimension, r.kind,
  r.value, r.u, r.u_form, r.limit_pm, r.step, r.text, r.instrument, coalesce(u.state, r.state), coalesce(u.why, r.why)
FROM readings r LEFT JOIN marks u ON u.id = (SELECT max(id) FROM marks WHERE reading_id = r.id)` + latestMove + `r.session_id)`

func scanReading(rows *sql.Rows) (sessions.Reading, error) {
	var r sessions.Reading
	var ns int64
	var kind, form sql.NullString
	err := rows.Scan(&r.ID, &r.SessionID, &r.ClockID, &ns, &r.Part, &r.Dimension, &kind,
		&r.Value, &r.U, &form, &r.Limit, &r.Step, &r.Text, &r.Instrument, &r.State, &r.Why)
	r.At = at(ns)
	r.Kind, r.KindGuessed = sessions.Kind(kind.String), !kind.Valid
	if r.KindGuessed {
		r.Kind = sessions.UsualKind(r.Dimension)
	}
	r.Rectangular = form.String == sessions.FormLimit
	if r.U > 0 && !form.Valid {
		r.Rectangular = sessions.StatesLimit(r.Text)
	}
	return r, err
}
