package book

import (
	"context"
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
)

// Record returns all that the book holds of a clock but its beats and faults, in
// order of time. Damage to a part that is needed is an error of KindDamaged; a damaged
// part that isn't is left empty, and the log is told. All are needed if none is named.
func (b *Book) Record(ctx context.Context, clockID int64, needed ...Part) (sessions.Record, error) {
	var r sessions.Record
	var err error
	if r.Clock, err = b.clock(ctx, clockID); err != nil {
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
		{Checks, []string{"checks"}, func() error {
			all, err := query(ctx, b, "reading the checks", scanCheck, checkRows+order, clockID)
			if err == nil {
				r.Checks, r.Withdrawn.Checks, err = part(ctx, b, ThingCheck, all, func(x sessions.Check) int64 { return x.ID })
			}
			return err
		}},
		{Events, []string{"events"}, func() error {
			all, err := query(ctx, b, "reading the events", scanEvent, eventRows+order, clockID)
			if err == nil {
				r.Events, r.Withdrawn.Events, err = part(ctx, b, ThingNote, all, func(x sessions.Event) int64 { return x.ID })
			}
			return err
		}},
		{Air, []string{"air"}, func() error {
			all, err := query(ctx, b, "reading the air", scanAir, airRows+order, clockID)
			if err == nil {
				r.Air, r.Withdrawn.Air, err = part(ctx, b, ThingAir, all, func(x sessions.Air) int64 { return x.ID })
			}
			return err
		}},
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
		return fail(b.path, found, err)
	}
	if said != "ok" {
		return &Error{Path: b.path, Kind: KindDamaged, What: "book " + b.path + ": " + found, Remedy: damageRemedy, Err: errors.New(said)}
	}
	return nil
}
