package book

import (
	"context"
	"database/sql"
	"errors"
	"slices"

	"evenbeat/sessions"
)

// Part is a part of a clock's record.
type Part string

// The parts of a record.
const (
	Sessions Part = "sessions"
	Readings Part = "readings"
	Checks   Part = "checks"
	Events   Part = "events"
	Air      Part = "air"

	Particulars Part = "particulars"
)

// Record returns all that the book holds of a clock but its beats and faults, in
// order of time. Damage to a part that is needed is an error of KindDamaged; a damaged
// part that isn't is left empty, and the log is told. All are needed if none is named.
func (b *Book) Record(ctx context.Context, clockID int64, needed ...Part) (sessions.Record, error) {
	var r sessions.Record
	var err error
	if r.Clock, err = b.Clock(ctx, clockID); err != nil {
		return sessions.Record{}, err
	}
	const order = " WHERE clock_id = ? ORDER BY at_ns, id"
	for _, p := range []struct {
		part   Part
		tables []string
		read   func() error
	}{
		{Sessions, nil, func() (err error) {
			r.Sessions, r.Withdrawn.Sessions, err = b.sessions(ctx, clockID)
			return err
		}},
		{Readings, []string{"readings", "marks", "session_moves"}, func() (err error) {
			r.Readings, err = b.Readings(ctx, clockID)
			return err
		}},
		{Checks, []string{"checks"}, lives(ctx, b, ThingCheck, checkRows+order, clockID, scanCheck, &r.Checks, &r.Withdrawn.Checks, func(x sessions.Check) int64 { return x.ID })},
		{Events, []string{"events"}, lives(ctx, b, ThingNote, eventRows+order, clockID, scanEvent, &r.Events, &r.Withdrawn.Events, func(x sessions.Event) int64 { return x.ID })},
		{Air, []string{"air"}, lives(ctx, b, ThingAir, airRows+order, clockID, scanAir, &r.Air, &r.Withdrawn.Air, func(x sessions.Air) int64 { return x.ID })},
		{Particulars, []string{"particulars"}, lives(ctx, b, ThingParticular, particularRows+order, clockID, scanParticular, &r.Particulars, &r.Withdrawn.Particulars,
			func(x sessions.Particular) int64 { return x.ID })},
	} {
		err := b.whole(ctx, p.tables...)
		if err == nil {
			err = p.read()
		}
		if _, damaged := asDamaged(err); damaged && len(needed) > 0 && !slices.Contains(needed, p.part) {
			b.log.Warn().Err(err).Msg("part of the book is damaged, though not what is asked for here")
		} else if err != nil {
			return sessions.Record{}, err
		}
	}
	return r, nil
}

// lives reads what befell a clock, and splits it into what stands and what was taken back.
func lives[T any](ctx context.Context, b *Book, t Thing, stmt string, clockID int64, scan func(*sql.Rows) (T, error), stand *[]T, taken *[]sessions.TakenBack[T], id func(T) int64) func() error {
	return func() error {
		all, err := query(ctx, b, "reading the "+t.table(), scan, stmt, clockID)
		if err == nil {
			*stand, *taken, err = part(ctx, b, t, all, id)
		}
		return err
	}
}

// whole has SQLite check tables with their indices before anything of them is believed:
// a page's checksum doesn't tell that it stands in another's place. It takes 1.4 µs a
// row, about half of what reading one takes. The error names the table.
func (b *Book) whole(ctx context.Context, tables ...string) error {
	for _, t := range tables {
		if err := b.intact(ctx, t, "its "+t+" are damaged"); err != nil {
			return err
		}
	}
	return nil
}

// intact runs SQLite's check of the table that what names. Where what is "1", it checks
// the whole file and stops at the first fault. found is what the error says then.
func (b *Book) intact(ctx context.Context, what, found string) error {
	var said string
	err := b.db.QueryRowContext(ctx, "PRAGMA integrity_check("+what+")").Scan(&said)
	if err != nil {
		if ctx.Err() != nil { // it was ended before anything was found
			found = "looking whether it is whole"
		}
		return fail(b.path, found, err)
	}
	if said != "ok" {
		return &Error{Path: b.path, Kind: KindDamaged, What: "book " + b.path + ": " + found, Remedy: damageRemedy, Err: errors.New(said)}
	}
	return nil
}
