package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"iter"
	"slices"

	"evenbeat/sessions"
)

// largeChunk is how many beats a compacted chunk holds at most: hours of most
// clocks, and half a MiB in memory while it is made.
const largeChunk = 16384

// AppendBeats adds beats to the end of a timing session and returns once they are
// on the disk. Stamps are kept to the microsecond.
func (b *Book) AppendBeats(ctx context.Context, sessionID int64, beats []sessions.Beat) error {
	if len(beats) == 0 {
		return nil
	}
	return b.write(ctx, "recording beats", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "session", "sessions", sessionID); err != nil {
			return err
		}
		var first int64
		err := tx.QueryRowContext(ctx, countBeats, sessionID).Scan(&first)
		if err != nil {
			return err
		}
		for part := range slices.Chunk(beats, largeChunk) {
			if err := putChunk(ctx, tx, sessionID, first, part); err != nil {
				return err
			}
			first += int64(len(part))
		}
		return nil
	})
}

func putChunk(ctx context.Context, tx *sql.Tx, sessionID, first int64, beats []sessions.Beat) error {
	data, err := encodeChunk(nil, beats)
	if err != nil {
		return err
	}
	_, err = insert(ctx, tx, "INSERT INTO beat_chunks (session_id, first_beat, beats, data) VALUES (?, ?, ?, ?)", sessionID, first, len(beats), data)
	return err
}

// countBeats asks the last chunk: to sum them all, each would be looked at.
const countBeats = "SELECT coalesce((SELECT first_beat + beats FROM beat_chunks WHERE session_id = ? ORDER BY first_beat DESC LIMIT 1), 0)"

// BeatCount returns how many beats the session has.
func (b *Book) BeatCount(ctx context.Context, sessionID int64) (int64, error) {
	var n int64
	err := b.db.QueryRowContext(ctx, countBeats, sessionID).Scan(&n)
	return n, fail(b.path, "counting beats", err)
}

// Beats walks through a session's beats in order, four thousand at a step. The
// slice is used again for the next step. A chunk that fails its checksum ends the
// walk with an error of KindDamaged.
func (b *Book) Beats(ctx context.Context, sessionID int64) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		beats := make([]sessions.Beat, 0, atOnce)
		var chunk chunkReader
		var next int64
		var failed error
		for row, err := range b.chunks(ctx, sessionID) {
			// Opened here and not where the chunks come from: far less goes from one core to
			// the other so.
			if failed = err; failed == nil {
				failed = b.open(&chunk, sessionID, row, next)
			}
			if failed != nil {
				break
			}
			next += row.beats
			more := false
			if beats, more = chunk.pass(beats, yield); !more {
				return
			}
		}
		if len(beats) > 0 && !yield(beats, nil) {
			return
		}
		if failed != nil {
			yield(nil, failed)
		}
	}
}

// pass reads the rest of the chunk behind beats, and hands them on whenever they are
// full. It returns what is left of them; false once yield has had enough.
func (r *chunkReader) pass(beats []sessions.Beat, yield func([]sessions.Beat, error) bool) ([]sessions.Beat, bool) {
	for r.next < r.n {
		beats = beats[:len(beats)+r.read(beats[len(beats):cap(beats)])]
		if len(beats) < cap(beats) {
			continue
		}
		if !yield(beats, nil) {
			return nil, false
		}
		beats = beats[:0]
	}
	return beats, true
}

// atOnce is how many beats come at a step.
const atOnce = 4096

// chunkRow is a chunk as it lies in the book.
type chunkRow struct {
	first, beats int64
	data         []byte
}

// open begins a session's chunk, the first beat of which must be number next.
func (b *Book) open(chunk *chunkReader, sessionID int64, r chunkRow, next int64) error {
	err := chunk.open(r.data)
	if err == nil && (r.first != next || r.beats != int64(chunk.n)) {
		err = fmt.Errorf("chunk tells beats %d to %d and holds %d, after beat %d", r.first, r.first+r.beats, chunk.n, next)
	}
	if err != nil {
		return b.damaged(sessionID, r.first, err)
	}
	return nil
}

// aheadBy is how many chunks are read beside the one that the caller works on.
const aheadBy = 2

// chunks reads a session's chunks in order, in a goroutine of its own, which has ended
// when the walk has. Their data is used again.
func (b *Book) chunks(ctx context.Context, sessionID int64) iter.Seq2[chunkRow, error] {
	return func(yield func(chunkRow, error) bool) {
		full, free := make(chan chunkRow, aheadBy), make(chan []byte, aheadBy+2)
		enough := make(chan struct{})
		var err error // of the reading, once full is closed
		go func() {
			defer close(full)
			err = b.readChunks(ctx, sessionID, free, full, enough)
		}()
		defer func() {
			close(enough)
			for range full { // closed once the reading has ended
			}
		}()
		for row := range full {
			if !yield(row, nil) {
				return
			}
			select {
			case free <- row.data:
			default:
			}
		}
		if err != nil {
			yield(chunkRow{}, err)
		}
	}
}

// readChunks sends the chunks to full until that is enough, their data in what free
// gives.
func (b *Book) readChunks(ctx context.Context, sessionID int64, free <-chan []byte, full chan<- chunkRow, enough <-chan struct{}) error {
	rows, err := b.db.QueryContext(ctx, "SELECT first_beat, beats, data FROM beat_chunks WHERE session_id = ? ORDER BY first_beat", sessionID)
	if err != nil {
		return fail(b.path, "reading beats", err)
	}
	defer rows.Close()
	var data sql.RawBytes
	n := 0
	for ; rows.Next(); n++ {
		var row chunkRow
		if err := rows.Scan(&row.first, &row.beats, &data); err != nil {
			return fail(b.path, "reading beats", err)
		}
		select {
		case row.data = <-free:
		default:
		}
		row.data = append(row.data[:0], data...)
		select {
		case full <- row:
		case <-enough:
			return nil
		}
	}
	if err := rows.Err(); err != nil {
		return fail(b.path, "reading beats", err)
	}
	return b.allChunks(ctx, sessionID, n)
}

// allChunks holds the chunks that an index led to against those in the table: a page's
// checksum doesn't tell that it stands in another's place. For a week of beats it takes
// 0.2 ms, since no chunk is read whole.
func (b *Book) allChunks(ctx context.Context, sessionID int64, read int) error {
	var n int
	if err := b.db.QueryRowContext(ctx, "SELECT count(*) FROM beat_chunks NOT INDEXED WHERE session_id = ?", sessionID).Scan(&n); err != nil {
		return fail(b.path, "reading beats", err)
	}
	if n != read {
		return &Error{Path: b.path, Kind: KindDamaged, What: fmt.Sprintf("book %s: of %d chunks of beats of session %d its index leads to %d", b.path, n, sessionID, read), Remedy: damageRemedy}
	}
	return nil
}

func (b *Book) damaged(sessionID, first int64, err error) error {
	e := &Error{Path: b.path, Kind: KindDamaged, Err: err,
		What:   fmt.Sprintf("book %s: beats of session %d from beat %d on: %v", b.path, sessionID, first, err),
		Remedy: damageRemedy + "; the beats before are whole"}
	if errors.Is(err, errChunkLayout) {
		e.Kind, e.Remedy = KindNewer, "use the newer program"
	}
	return e
}

// piece is a chunk as it lies in the book.
type piece struct {
	id, first, beats int64
}

// CompactBeats joins a session's small chunks into large ones, so that they take
// less room and are read faster. The beats stay the same: each large chunk is read
// back out of the book and compared with those it replaces before they go, all in
// one transaction. It is the only thing that ever deletes.
func (b *Book) CompactBeats(ctx context.Context, sessionID int64) error {
	pieces, err := query(ctx, b, "compacting beats", func(rows *sql.Rows) (piece, error) {
		var p piece
		err := rows.Scan(&p.id, &p.first, &p.beats)
		return p, err
	}, "SELECT id, first_beat, beats FROM beat_chunks WHERE session_id = ? ORDER BY first_beat", sessionID)
	if err != nil {
		return err
	}
	for len(pieces) > 0 {
		n, beats := 1, pieces[0].beats
		for n < len(pieces) && beats+pieces[n].beats <= largeChunk {
			beats += pieces[n].beats
			n++
		}
		if n > 1 {
			group := pieces[:n]
			err := b.write(ctx, "compacting beats", func(tx *sql.Tx) error { return b.join(ctx, tx, sessionID, group) })
			if err != nil {
				return err
			}
		}
		pieces = pieces[n:]
	}
	return nil
}

func (b *Book) join(ctx context.Context, tx *sql.Tx, sessionID int64, group []piece) error {
	var all, part []sessions.Beat
	for _, p := range group {
		var err error
		if part, err = getChunk(ctx, tx, part, p.id); err != nil {
			return b.damaged(sessionID, p.first, err)
		}
		all = append(all, part...)
	}
	first := group[0].first
	if err := putChunk(ctx, tx, sessionID, first, all); err != nil {
		return err
	}
	var id int64
	err := tx.QueryRowContext(ctx, "SELECT id FROM beat_chunks WHERE session_id = ? AND first_beat = ? AND beats = ?", sessionID, first, len(all)).Scan(&id)
	if err != nil {
		return err
	}
	if part, err = getChunk(ctx, tx, part, id); err != nil {
		return err
	}
	if !slices.Equal(part, all) {
		return fmt.Errorf("joined beats of session %d differ from those recorded: nothing was changed", sessionID)
	}
	for _, p := range group {
		if _, err := tx.ExecContext(ctx, "DELETE FROM beat_chunks WHERE id = ?", p.id); err != nil {
			return err
		}
	}
	return nil
}

func getChunk(ctx context.Context, tx *sql.Tx, dst []sessions.Beat, id int64) ([]sessions.Beat, error) {
	var data []byte
	if err := tx.QueryRowContext(ctx, "SELECT data FROM beat_chunks WHERE id = ?", id).Scan(&data); err != nil {
		return dst, err
	}
	return decodeChunk(dst, data)
}
