package book

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"fmt"
	"iter"
	"math"
	"strings"

	"evenbeat/sessions"
)

// Incoming is what a file, or the demo, brings.
type Incoming struct {
	// Clock is made for the rows whose clock has no number yet.
	Clock    sessions.Clock
	Readings []sessions.Reading
	Checks   []sessions.Check
	Events   []sessions.Event
	Air      []sessions.Air

	Particulars []sessions.Particular
	// Session is that of the beats, which are read as they are stored. Its ID is of no
	// matter; its Ended is kept. Without a beat it isn't recorded.
	Session sessions.Session
	Beats   iter.Seq2[[]sessions.Beat, error]
}

// Imported tells how many rows were added, and how many were in the book already.
type Imported struct{ New, Known int64 }

// Import records all that is brought, or nothing if a row, the beats or the disk fail; an
// error names the row, from 1. What is in the book already isn't added again, even if it
// was taken back; beats are known by an import of the same ones. A reading whose state is
// undone is recorded as kept and then undone.
func (b *Book) Import(ctx context.Context, in Incoming) (Imported, error) {
	// As in StartSession.
	if err := b.intact(ctx, "1", "it is damaged, and nothing more is added"); err != nil {
		return Imported{}, err
	}
	var n Imported
	err := b.write(ctx, "importing", func(tx *sql.Tx) error { return b.importAll(ctx, tx, in, &n) })
	if err != nil {
		return Imported{}, err
	}
	return n, nil
}

func (b *Book) importAll(ctx context.Context, tx *sql.Tx, in Incoming, n *Imported) (err error) {
	if in.Clock.Name != "" {
		if in.Clock, err = b.addClock(ctx, tx, in.Clock); err != nil {
			return err
		}
	}
	of := func(id *int64) int64 {
		if *id == 0 {
			*id = in.Clock.ID
		}
		return *id
	}
	if err := addMissing(ctx, tx, n, in.Readings, readingRows+within("coalesce(m.clock_id, r.clock_id)", "r.at_ns"), scanReading, b.addWithState, func(r *sessions.Reading) identity {
		return identity{of(&r.ClockID), r.At.UnixNano(), [3]float64{r.Value}, strings.Join([]string{r.Part, r.Dimension, r.Text, r.Instrument}, "\x00")}
	}); err != nil {
		return err
	}
	if err := addMissing(ctx, tx, n, in.Checks, checkRows+within("clock_id", "at_ns"), scanCheck, b.addCheck, func(c *sessions.Check) identity {
		return identity{of(&c.ClockID), c.At.UnixNano(), [3]float64{c.ErrorS, c.U}, ""}
	}); err != nil {
		return err
	}
	if err := addMissing(ctx, tx, n, in.Events, eventRows+within("clock_id", "at_ns"), scanEvent, b.addEvent, func(e *sessions.Event) identity {
		return identity{of(&e.ClockID), e.At.UnixNano(), [3]float64{e.Turns}, e.Kind + "\x00" + e.Text}
	}); err != nil {
		return err
	}
	if err := addMissing(ctx, tx, n, in.Air, airRows+within("clock_id", "at_ns"), scanAir, b.addAir, func(a *sessions.Air) identity {
		return identity{of(&a.ClockID), a.At.UnixNano(), [3]float64{a.TemperatureC, a.PressureHPa, a.HumidityPct},
			fmt.Sprint(a.HasTemperature, a.HasPressure, a.HasHumidity)}
	}); err != nil {
		return err
	}
	if err := addMissing(ctx, tx, n, in.Particulars, particularRows+within("clock_id", "at_ns"), scanParticular, b.addParticular, func(p *sessions.Particular) identity {
		return identity{of(&p.ClockID), p.At.UnixNano(), [3]float64{}, strings.Join([]string{p.Part, p.Name, p.Value}, "\x00")}
	}); err != nil || in.Beats == nil {
		return err
	}
	of(&in.Session.ClockID)
	return b.importBeats(ctx, tx, in.Session, in.Beats, n)
}

// identity is what two rows of a kind share if they are the same one.
type identity struct {
	clock, ns int64
	numbers   [3]float64
	text      string
}

// within bounds the rows of a query to a clock and a span of time.
func within(clock, ns string) string {
	return " WHERE " + clock + " = ? AND " + ns + " BETWEEN ? AND ?"
}

// addMissing adds those of the rows that the book doesn't hold. Rows that stand in a file
// several times are wanted as often in the book.
func addMissing[T any](ctx context.Context, tx *sql.Tx, n *Imported, rows []T, stmt string, scan func(*sql.Rows) (T, error),
	put func(context.Context, runner, T) (int64, error), identify func(*T) identity) error {
	type span struct{ from, to int64 }
	spans := map[int64]span{}
	for i := range rows {
		id := identify(&rows[i])
		s, ok := spans[id.clock]
		if !ok {
			s = span{math.MaxInt64, math.MinInt64}
		}
		spans[id.clock] = span{min(s.from, id.ns), max(s.to, id.ns)}
	}
	there := map[identity]int{}
	for clock, s := range spans {
		known, err := collect(ctx, tx, scan, stmt, clock, s.from, s.to)
		if err != nil {
			return err
		}
		for i := range known {
			there[identify(&known[i])]++
		}
	}
	statements := prepared{tx, map[string]*sql.Stmt{}}
	for i := range rows {
		id := identify(&rows[i])
		if there[id] > 0 {
			there[id]--
			n.Known++
			continue
		}
		if _, err := put(ctx, statements, rows[i]); err != nil {
			return fmt.Errorf("row %d: %w", i+1, err)
		}
		n.New++
	}
	return nil
}

// importBeats records a whole timing session. If it has no beats, or is one that was
// imported before, it is taken out of the transaction again.
func (b *Book) importBeats(ctx context.Context, tx *sql.Tx, s sessions.Session, beats iter.Seq2[[]sessions.Beat, error], n *Imported) error {
	if _, err := tx.ExecContext(ctx, "SAVEPOINT beats"); err != nil {
		return err
	}
	id, count, err := b.putTimed(ctx, tx, s, beats)
	if err != nil {
		return err
	}
	known := false
	if count > 0 {
		if known, err = importedBefore(ctx, tx, id, s.ClockID, count); err != nil {
			return err
		}
	}
	if known {
		n.Known += count
	} else {
		n.New += count
	}
	if known || count == 0 {
		if _, err := tx.ExecContext(ctx, "ROLLBACK TO beats"); err != nil {
			return err
		}
	}
	_, err = tx.ExecContext(ctx, "RELEASE beats")
	return err
}

// putTimed records a session, its beats and its end, and returns how many beats it has.
func (b *Book) putTimed(ctx context.Context, tx *sql.Tx, s sessions.Session, beats iter.Seq2[[]sessions.Beat, error]) (id, count int64, err error) {
	started, err := b.nanos("session", s.Started)
	if err != nil {
		return 0, 0, err
	}
	ended, err := b.nanos("end of session", s.Ended)
	if err != nil {
		return 0, 0, err
	}
	if err := b.checkSession(s); err != nil {
		return 0, 0, err
	}
	if id, err = b.putSession(ctx, tx, s, started); err != nil {
		return 0, 0, err
	}
	if count, err = putBeats(ctx, tx, id, 0, beats); err != nil {
		return 0, 0, err
	}
	_, err = insert(ctx, tx, "INSERT INTO session_ends (session_id, ended_ns) VALUES (?, ?)", id, ended)
	return id, count, err
}

// importedBefore tells whether another session of the clock was imported and has the same
// beats. Its stamps differ, since they are of the time of the import.
func importedBefore(ctx context.Context, tx *sql.Tx, id, clock, count int64) (bool, error) {
	others, err := collect(ctx, tx, scanNumber, `SELECT s.id FROM sessions s JOIN session_ends e ON e.session_id = s.id`+latestMove+`s.id)
WHERE coalesce(m.clock_id, s.clock_id) = ? AND s.id <> ? AND s.kind = ? AND s.port = '' AND e.ended_ns = s.started_ns`, clock, id, sessions.SessionTime)
	if err != nil {
		return false, err
	}
	var own [sha256.Size]byte
	for _, other := range others {
		var n int64
		if err := tx.QueryRowContext(ctx, countBeats, other).Scan(&n); err != nil || n != count {
			if err != nil {
				return false, err
			}
			continue
		}
		if own == [sha256.Size]byte{} {
			if own, err = digestCounts(ctx, tx, id); err != nil {
				return false, err
			}
		}
		its, err := digestCounts(ctx, tx, other)
		if err != nil || its == own {
			return err == nil, err
		}
	}
	return false, nil
}

// digestCounts returns a digest of the counts of a session's beats.
func digestCounts(ctx context.Context, tx *sql.Tx, session int64) (sum [sha256.Size]byte, err error) {
	chunks, err := collect(ctx, tx, scanNumber, "SELECT id FROM beat_chunks WHERE session_id = ? ORDER BY first_beat", session)
	if err != nil {
		return sum, err
	}
	h := sha256.New()
	var beats []sessions.Beat
	var counts []byte
	for _, id := range chunks {
		if beats, err = getChunk(ctx, tx, beats, id); err != nil {
			return sum, err
		}
		counts = counts[:0]
		for _, x := range beats {
			counts = binary.BigEndian.AppendUint64(counts, x.Count)
		}
		h.Write(counts)
	}
	return [sha256.Size]byte(h.Sum(nil)), nil
}

func scanNumber(rows *sql.Rows) (n int64, err error) {
	err = rows.Scan(&n)
	return n, err
}

// putBeats keeps beats of a session, from that number on, in large chunks. It returns how many
// the session has then.
func putBeats(ctx context.Context, tx *sql.Tx, sessionID, first int64, beats iter.Seq2[[]sessions.Beat, error]) (int64, error) {
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
			return 0, err
		}
		for len(some) > 0 {
			n := min(len(some), largeChunk-len(held))
			held, some = append(held, some[:n]...), some[n:]
			if len(held) < largeChunk {
				break
			}
			if err := put(); err != nil {
				return 0, err
			}
		}
	}
	err := put()
	return first, err
}
