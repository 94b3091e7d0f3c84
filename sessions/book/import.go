package book

import (
	"context"
	"database/sql"
	"iter"

	"evenbeat/sessions"
)

// ImportBeats records a whole timing session with its beats, read as they are
// stored, and returns its number: all of it, or nothing if the beats or the disk
// fail. The session's ID is of no matter; its Ended is kept.
func (b *Book) ImportBeats(ctx context.Context, s sessions.Session, beats iter.Seq2[[]sessions.Beat, error]) (int64, error) {
	started, err := b.nanos("session", s.Started)
	if err != nil {
		return 0, err
	}
	ended, err := b.nanos("end of session", s.Ended)
	if err != nil {
		return 0, err
	}
	if err := b.checkSession(s); err != nil {
		return 0, err
	}
	var id int64
	err = b.write(ctx, "importing beats", func(tx *sql.Tx) error {
		if id, err = b.putSession(ctx, tx, s, started); err != nil {
			return err
		}
		if err := putBeats(ctx, tx, id, beats); err != nil {
			return err
		}
		_, err := insert(ctx, tx, "INSERT INTO session_ends (session_id, ended_ns) VALUES (?, ?)", id, ended)
		return err
	})
	return id, err
}

// putBeats keeps all beats of a session, in large chunks.
func putBeats(ctx context.Context, tx *sql.Tx, sessionID int64, beats iter.Seq2[[]sessions.Beat, error]) error {
	var first int64
	held := make([]sessions.Beat, 0, largeChunk)
	put := func() error {
		if len(held) == 0 {
			return nil
		}
		err := putChunk(ctx, tx, sessionID, first, held)
		first += int64(len(held))
		held = held[:0]
		return err
	}
	for some, err := range beats {
		if err != nil {
			return err
		}
		for len(some) > 0 {
			n := min(len(some), largeChunk-len(held))
			held, some = append(held, some[:n]...), some[n:]
			if len(held) < largeChunk {
				break
			}
			if err := put(); err != nil {
				return err
			}
		}
	}
	return put()
}
