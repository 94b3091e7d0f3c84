package book

import (
	"context"
	"database/sql"
	"time"

	"evenbeat/sessions"
)

// AddHostReading records what the computer told of its clock during a timing session.
func (b *Book) AddHostReading(ctx context.Context, sessionID int64, r sessions.HostReading) error {
	return b.write(ctx, "recording the computer's clock", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "session", "sessions", sessionID); err != nil {
			return err
		}
		_, err := insert(ctx, tx, "INSERT INTO host_readings (session_id, host, boot, synced, mono_ns, raw_ns) VALUES (?, ?, ?, ?, ?, ?)",
			sessionID, r.Host, r.Boot, r.Synced, r.MonoNs, r.RawNs)
		return err
	})
}

// HostReadings returns what the computer told of its clock during a session, in order:
// none where the system doesn't tell.
func (b *Book) HostReadings(ctx context.Context, sessionID int64) ([]sessions.HostReading, error) {
	if err := b.whole(ctx, "host_readings", "withdrawals"); err != nil {
		return nil, err
	}
	return query(ctx, b, "reading what the computer told of its clock", func(rows *sql.Rows) (r sessions.HostReading, err error) {
		return r, rows.Scan(&r.Host, &r.Boot, &r.Synced, &r.MonoNs, &r.RawNs)
	}, "SELECT host, boot, synced, mono_ns, raw_ns FROM host_readings WHERE session_id = ? ORDER BY id", sessionID)
}

// SessionsOn returns the sessions that a computer timed, of any clock, and that began
// before a time, the newest first and as many as most: those in which a time service or a
// reference told what its clock does. Those that were taken back aren't among them.
func (b *Book) SessionsOn(ctx context.Context, host string, before time.Time, most int) ([]sessions.Session, error) {
	ns, err := b.nanos("time of the newest session", before)
	if err != nil {
		return nil, err
	}
	if err := b.whole(ctx, "sessions", "session_ends", "host_readings"); err != nil {
		return nil, err
	}
	return query(ctx, b, "reading a computer's sessions", scanSession, sessionRows+` WHERE s.started_ns < ?
  AND s.id IN (SELECT session_id FROM host_readings WHERE host = ?)
  AND s.id NOT IN (SELECT row_id FROM withdrawals WHERE thing = 'session')
  AND (s.host_synced OR EXISTS (SELECT 1 FROM reference_times r WHERE r.session_id = s.id)) ORDER BY s.started_ns DESC, s.id DESC LIMIT ?`, ns, host, most)
}
