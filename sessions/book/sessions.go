package book

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"time"

	"evenbeat/sessions"
)

const sessionRows = `SELECT s.id, coalesce(m.clock_id, s.clock_id), s.kind, coalesce(m.part, s.part), s.plan, s.port, s.profile, s.started_ns, e.ended_ns,
  s.count_rate, s.count_bits, s.host_synced, s.host_known, s.host_max_error_s
FROM sessions s LEFT JOIN session_ends e ON e.session_id = s.id` + latestMove + "s.id)"

// latestMove joins the row that tells the clock and part of a session that was moved. The
// session's number and a bracket follow.
const latestMove = " LEFT JOIN session_moves m ON m.id = (SELECT max(id) FROM session_moves WHERE session_id = "

// StartSession opens a session and returns its number. Ended is not kept: see
// EndSession. The first of a day has a copy of the book made.
func (b *Book) StartSession(ctx context.Context, s sessions.Session) (int64, error) {
	started, err := b.nanos("session", s.Started)
	if err != nil {
		return 0, err
	}
	if err := b.checkSession(s); err != nil {
		return 0, err
	}
	// Nothing is added to a book that is damaged anywhere. It takes a millisecond a MB.
	if err := b.intact(ctx, "1", "it is damaged, and nothing more is added"); err != nil {
		return 0, err
	}
	id, err := add(ctx, b, "starting a session", s, func(ctx context.Context, tx runner, s sessions.Session) (int64, error) {
		return b.putSession(ctx, tx, s, started)
	})
	if err == nil {
		b.copyDaily(context.WithoutCancel(ctx))
	}
	return id, err
}

func (b *Book) checkSession(s sessions.Session) error {
	if kinds := sessions.SessionKinds(); !slices.Contains(kinds, s.Kind) {
		return inputError(b.path, "session of kind %q: use %s", s.Kind, strings.Join(kinds, ", "))
	}
	return b.finite("session", positive("count rate", s.Timing.CountRate), positive("count bits", float64(s.Timing.CountBits)),
		positive("bound on the host's clock", s.Timing.HostMaxErrorS))
}

func (b *Book) putSession(ctx context.Context, tx runner, s sessions.Session, started int64) (int64, error) {
	if err := b.must(ctx, tx, "clock", "clocks", s.ClockID); err != nil {
		return 0, err
	}
	return insert(ctx, tx, `INSERT INTO sessions
  (clock_id, kind, part, plan, port, profile, started_ns, count_rate, count_bits, host_synced, host_known, host_max_error_s)
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		s.ClockID, s.Kind, s.Part, s.Plan, s.Port, s.Profile, started, s.Timing.CountRate, s.Timing.CountBits,
		s.Timing.HostSynced, s.Timing.HostKnown, s.Timing.HostMaxErrorS)
}

// EndSession records when the session ended. A session that has ended stays as it
// is, without an error: two that watch one recording may both see its end.
func (b *Book) EndSession(ctx context.Context, id int64, ended time.Time) error {
	ns, err := b.nanos("end of session", ended)
	if err != nil {
		return err
	}
	return b.write(ctx, "ending a session", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "session", "sessions", id); err != nil {
			return err
		}
		var n int
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM session_ends WHERE session_id = ?", id).Scan(&n); err != nil || n > 0 {
			return err
		}
		_, err := insert(ctx, tx, "INSERT INTO session_ends (session_id, ended_ns) VALUES (?, ?)", id, ns)
		return err
	})
}

func scanSession(rows *sql.Rows) (sessions.Session, error) {
	var s sessions.Session
	var started int64
	var ended sql.NullInt64
	err := rows.Scan(&s.ID, &s.ClockID, &s.Kind, &s.Part, &s.Plan, &s.Port, &s.Profile, &started, &ended,
		&s.Timing.CountRate, &s.Timing.CountBits, &s.Timing.HostSynced, &s.Timing.HostKnown, &s.Timing.HostMaxErrorS)
	s.Started = at(started)
	if ended.Valid {
		s.Ended = at(ended.Int64)
	}
	return s, err
}

// Sessions returns the sessions with a clock, in order of time, but for those that were
// taken back.
func (b *Book) Sessions(ctx context.Context, clockID int64) ([]sessions.Session, error) {
	stand, _, err := b.sessions(ctx, clockID)
	return stand, err
}

func (b *Book) sessions(ctx context.Context, clockID int64) (stand []sessions.Session, taken []sessions.TakenBack[sessions.Session], err error) {
	if err := b.whole(ctx, "sessions", "session_ends", "session_moves"); err != nil {
		return nil, nil, err
	}
	all, err := query(ctx, b, "reading the sessions", scanSession, sessionRows+" WHERE coalesce(m.clock_id, s.clock_id) = ? ORDER BY s.started_ns, s.id", clockID)
	if err != nil {
		return nil, nil, err
	}
	return part(ctx, b, ThingSession, all, func(s sessions.Session) int64 { return s.ID })
}

// Session returns one session.
func (b *Book) Session(ctx context.Context, id int64) (sessions.Session, error) {
	all, err := query(ctx, b, "reading a session", scanSession, sessionRows+" WHERE s.id = ?", id)
	if err != nil {
		return sessions.Session{}, err
	}
	if len(all) == 0 {
		return sessions.Session{}, b.unknown("session", id)
	}
	return all[0], nil
}

// AddFault records a fault of a session's line and returns its number.
func (b *Book) AddFault(ctx context.Context, f sessions.Fault) (int64, error) {
	ns, err := b.nanos("fault", f.At)
	if err != nil {
		return 0, err
	}
	if f.Kind == "" {
		return 0, inputError(b.path, "a fault needs a kind")
	}
	return add(ctx, b, "recording a fault", f, func(ctx context.Context, tx runner, f sessions.Fault) (int64, error) {
		if err := b.must(ctx, tx, "session", "sessions", f.SessionID); err != nil {
			return 0, err
		}
		return insert(ctx, tx, "INSERT INTO faults (session_id, at_ns, kind, text) VALUES (?, ?, ?, ?)", f.SessionID, ns, f.Kind, f.Text)
	})
}

// Faults returns a session's faults in the order in which they were recorded.
func (b *Book) Faults(ctx context.Context, sessionID int64) ([]sessions.Fault, error) {
	return query(ctx, b, "reading the faults", func(rows *sql.Rows) (sessions.Fault, error) {
		var f sessions.Fault
		var ns int64
		err := rows.Scan(&f.ID, &f.SessionID, &ns, &f.Kind, &f.Text)
		f.At = at(ns)
		return f, err
	}, "SELECT id, session_id, at_ns, kind, text FROM faults WHERE session_id = ? ORDER BY id", sessionID)
}
