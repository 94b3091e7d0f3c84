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
		var first int64
		var held []sessions.Beat
		put := func(least int) error {
			for len(held) >= least && len(held) > 0 {
				n := min(len(held), largeChunk)
				if err := putChunk(ctx, tx, id, first, held[:n]); err != nil {
					return err
				}
				first += int64(n)
				held = append(held[:0], held[n:]...)
			}
			return nil
		}
		for chunk, err := range beats {
			if err != nil {
				return err
			}
			held = append(held, chunk...)
			if err := put(largeChunk); err != nil {
				return err
			}
		}
		if err := put(1); err != nil {
			return err
		}
		_, err := insert(ctx, tx, "INSERT INTO session_ends (session_id, ended_ns) VALUES (?, ?)", id, ended)
		return err
	})
	return id, err
}
