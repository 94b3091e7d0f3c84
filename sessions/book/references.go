package book

import (
	"context"
	"database/sql"

	"evenbeat/sessions"
)

// AppendReferences adds what a time reference told to a timing session, in the
// order in which it came, and returns once it is on the disk: all of it, or none.
func (b *Book) AppendReferences(ctx context.Context, sessionID int64, told []sessions.Reference) error {
	if len(told) == 0 {
		return nil
	}
	return b.write(ctx, "recording reference times", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "session", "sessions", sessionID); err != nil {
			return err
		}
		put, err := tx.PrepareContext(ctx, "INSERT INTO reference_times (session_id, host_mono_ns, host_utc_ns, reference_ns, by_pulse) VALUES (?, ?, ?, ?, ?)")
		if err != nil {
			return err
		}
		defer func() { _ = put.Close() }() // the transaction closes it too, and its fate is the answer
		for _, r := range told {
			if _, err := put.ExecContext(ctx, sessionID, r.HostMono, r.HostUTC, r.Nanos, r.ByPulse); err != nil {
				return err
			}
		}
		return nil
	})
}

// References returns what a time reference told during a session, in the order in
// which it came: none for a session without one. All are in memory at once, 32
// bytes for each second of the session.
func (b *Book) References(ctx context.Context, sessionID int64) ([]sessions.Reference, error) {
	if err := b.whole(ctx, "reference_times"); err != nil {
		return nil, err
	}
	return query(ctx, b, "reading reference times", func(rows *sql.Rows) (sessions.Reference, error) {
		var r sessions.Reference
		err := rows.Scan(&r.HostMono, &r.HostUTC, &r.Nanos, &r.ByPulse)
		return r, err
	}, "SELECT host_mono_ns, host_utc_ns, reference_ns, by_pulse FROM reference_times WHERE session_id = ? ORDER BY id", sessionID)
}
