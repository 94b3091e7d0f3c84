package book

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"time"
)

// write does f in one transaction and returns once it is on the disk; whatever
// goes wrong, nothing of f is kept. What was written into a file that is no longer the
// book counts as not kept.
func (b *Book) write(ctx context.Context, doing string, f func(tx *sql.Tx) error) error {
	if err := b.Lost(); err != nil {
		return err
	}
	select {
	case b.turn <- struct{}{}:
		defer func() { <-b.turn }()
	case <-ctx.Done():
		return fail(b.path, doing, ctx.Err())
	}
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return fail(b.path, doing, err)
	}
	err = f(tx)
	if err == nil {
		err = b.inPlace(doing) // before the commit too: the log may lie beside another book by now
	}
	if err != nil {
		// The cause is what the caller must hear; after a full disk the rollback
		// has been done by SQLite already and says so.
		_ = tx.Rollback()
		return fail(b.path, doing, err)
	}
	if err := tx.Commit(); err != nil {
		return fail(b.path, doing, err)
	}
	if err := b.inPlace(doing); err != nil {
		return err
	}
	if err := b.keepTally(context.WithoutCancel(ctx)); err != nil {
		b.log.Debug().Err(err).Msg("the tally of what is acknowledged was not kept")
	}
	return nil
}

// Checkpoint copies what is in the write-ahead log into the book's file, as far as nobody
// still reads what was there before. The file alone then holds it.
func (b *Book) Checkpoint(ctx context.Context) error {
	_, err := b.db.ExecContext(ctx, "PRAGMA wal_checkpoint(passive)")
	return fail(b.path, "folding in its log", err)
}

// query collects the rows of a statement, each read by scan.
func query[T any](ctx context.Context, b *Book, doing string, scan func(*sql.Rows) (T, error), stmt string, args ...any) ([]T, error) {
	all, err := collect(ctx, b.db, scan, stmt, args...)
	return all, fail(b.path, doing, err)
}

// collect is query of a database or a transaction, with SQLite's own errors. Rows that
// came before an error are returned with it.
func collect[T any](ctx context.Context, from interface {
	QueryContext(ctx context.Context, stmt string, args ...any) (*sql.Rows, error)
}, scan func(*sql.Rows) (T, error), stmt string, args ...any) ([]T, error) {
	rows, err := from.QueryContext(ctx, stmt, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		t, err := scan(rows)
		if err != nil {
			return all, err
		}
		all = append(all, t)
	}
	return all, rows.Err()
}

// add records one thing, or several, in a transaction of its own and returns its number,
// or theirs.
func add[T, N any](ctx context.Context, b *Book, doing string, t T, put func(context.Context, runner, T) (N, error)) (id N, err error) {
	err = b.write(ctx, doing, func(tx *sql.Tx) error {
		id, err = put(ctx, tx, t)
		return err
	})
	return id, err
}

// ofClock is what every row of a clock's life has, on its way into the book.
type ofClock struct {
	what    string // for errors: "check"
	clock   int64
	at      time.Time
	numbers []number
}

// insertOf checks what all such rows have, and inserts one. The statement's values are
// the clock, the time, and then more.
func (b *Book) insertOf(ctx context.Context, tx runner, o ofClock, stmt string, more ...any) (int64, error) {
	ns, err := b.nanos(o.what, o.at)
	if err == nil {
		err = b.finite(o.what, o.numbers...)
	}
	if err == nil {
		err = b.must(ctx, tx, "clock", "clocks", o.clock)
	}
	if err != nil {
		return 0, err
	}
	return insert(ctx, tx, stmt, append([]any{o.clock, ns}, more...)...)
}

// runner runs the statements of a transaction.
type runner interface {
	ExecContext(ctx context.Context, stmt string, args ...any) (sql.Result, error)
	QueryRowContext(ctx context.Context, stmt string, args ...any) *sql.Row
}

// prepared is a runner for many rows: it prepares each statement once, which is most of
// what one row takes. The statements end with the transaction.
type prepared struct {
	tx  *sql.Tx
	all map[string]*sql.Stmt
}

func (p prepared) stmt(ctx context.Context, text string) (s *sql.Stmt, err error) {
	s, ok := p.all[text]
	if !ok {
		if s, err = p.tx.PrepareContext(ctx, text); err == nil {
			p.all[text] = s
		}
	}
	return s, err
}

func (p prepared) ExecContext(ctx context.Context, text string, args ...any) (sql.Result, error) {
	s, err := p.stmt(ctx, text)
	if err != nil {
		return nil, err
	}
	return s.ExecContext(ctx, args...)
}

func (p prepared) QueryRowContext(ctx context.Context, text string, args ...any) *sql.Row {
	s, err := p.stmt(ctx, text)
	if err != nil {
		return p.tx.QueryRowContext(ctx, text, args...) // which tells the error
	}
	return s.QueryRowContext(ctx, args...)
}

func insert(ctx context.Context, tx runner, stmt string, args ...any) (int64, error) {
	res, err := tx.ExecContext(ctx, stmt, args...)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

// Times outside these years don't fit into nanoseconds of 64 bits.
var (
	earliest = time.Date(1678, 1, 1, 0, 0, 0, 0, time.UTC)
	latest   = time.Date(2262, 1, 1, 0, 0, 0, 0, time.UTC)
)

// nanos returns the time as the book keeps it.
func (b *Book) nanos(what string, t time.Time) (int64, error) {
	if t.Before(earliest) || t.After(latest) {
		return 0, inputError(b.path, "%s: time %s is outside the years 1678 to 2261", what, t.Format(time.RFC3339))
	}
	return t.UnixNano(), nil
}

func at(ns int64) time.Time { return time.Unix(0, ns).UTC() }

// number is a figure on its way into the book.
type number struct {
	name  string
	value float64
	least float64
}

// finite refuses what no measurement gives.
func (b *Book) finite(what string, numbers ...number) error {
	for _, n := range numbers {
		if math.IsNaN(n.value) || math.IsInf(n.value, 0) {
			return inputError(b.path, "%s: %s %v can't be recorded: it must be a number", what, n.name, n.value)
		}
		if n.value < n.least {
			return inputError(b.path, "%s: %s %v must not be less than %v", what, n.name, n.value, n.least)
		}
	}
	return nil
}

func anySign(name string, v float64) number  { return number{name, v, math.Inf(-1)} }
func positive(name string, v float64) number { return number{name, v, 0} }

func orNull(v float64, has bool) any {
	if has {
		return v
	}
	return nil
}

func idOrNull(id int64) any {
	if id != 0 {
		return id
	}
	return nil
}

// unknown is the error for a number that no row has.
func (b *Book) unknown(thing string, id int64) error {
	return &Error{Path: b.path, Kind: KindUnknown, What: fmt.Sprintf("there is no %s %d in the book", thing, id)}
}

// must reports an error unless the row is there, so that a wrong number is told
// by name instead of as a failed foreign key.
func (b *Book) must(ctx context.Context, tx runner, thing, table string, id int64) error {
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM "+table+" WHERE id = ?", id).Scan(&n); err != nil {
		return err
	}
	if n == 0 {
		return b.unknown(thing, id)
	}
	return nil
}
