package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"evenbeat/sessions"
)

const clockRows = `SELECT c.id, c.created_ns, v.name, v.train, v.beats_per_hour, v.beats_per_tooth, v.hour_arbor, v.rod, v.nut_pitch_m, v.zone
FROM clocks c JOIN clock_versions v ON v.id = (SELECT max(id) FROM clock_versions WHERE clock_id = c.id)`

// AddClock starts a clock and returns it with its number. Created zero means now.
// A name that another clock bears, in whatever case, is an error of KindDuplicate.
func (b *Book) AddClock(ctx context.Context, c sessions.Clock) (sessions.Clock, error) {
	err := b.write(ctx, "adding a clock", func(tx *sql.Tx) (err error) {
		c, err = b.addClock(ctx, tx, c)
		return err
	})
	if err != nil {
		return sessions.Clock{}, err
	}
	return c, nil
}

func (b *Book) addClock(ctx context.Context, tx *sql.Tx, c sessions.Clock) (sessions.Clock, error) {
	if c.Created.IsZero() {
		c.Created = b.now()
	}
	created, err := b.nanos("clock", c.Created)
	if err != nil {
		return c, err
	}
	c.Created = at(created)
	if c.ID, err = insert(ctx, tx, "INSERT INTO clocks (created_ns) VALUES (?)", created); err != nil {
		return c, err
	}
	return c, b.describe(ctx, tx, c)
}

// EditClock describes the clock c.ID anew. The old description stays in the book.
func (b *Book) EditClock(ctx context.Context, c sessions.Clock) error {
	return b.write(ctx, "editing a clock", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "clock", "clocks", c.ID); err != nil {
			return err
		}
		return b.describe(ctx, tx, c)
	})
}

func (b *Book) describe(ctx context.Context, tx *sql.Tx, c sessions.Clock) error {
	if strings.TrimSpace(c.Name) == "" {
		return inputError(b.path, "a clock needs a name")
	}
	err := b.finite("clock "+c.Name, positive("beats per hour", c.BeatsPerHour), positive("nut pitch", c.NutPitch),
		positive("beats per tooth", float64(c.BeatsPerTooth)), positive("hour arbor", float64(c.HourArbor)))
	if err != nil {
		return err
	}
	clocks, err := collect(ctx, tx, scanClock, clockRows)
	if err != nil {
		return err
	}
	for _, other := range clocks {
		if other.ID != c.ID && strings.EqualFold(other.Name, c.Name) {
			return &Error{Path: b.path, Kind: KindDuplicate, What: fmt.Sprintf("a clock named %s is in the book already", other.Name),
				Remedy: "choose another name, or edit that one"}
		}
	}
	_, err = insert(ctx, tx, `INSERT INTO clock_versions
  (clock_id, written_ns, name, train, beats_per_hour, beats_per_tooth, hour_arbor, rod, nut_pitch_m, zone)
  VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		c.ID, b.now().UnixNano(), c.Name, c.Train, c.BeatsPerHour, c.BeatsPerTooth, c.HourArbor, c.Rod, c.NutPitch, c.Zone)
	return err
}

func scanClock(rows *sql.Rows) (sessions.Clock, error) {
	var c sessions.Clock
	var created int64
	err := rows.Scan(&c.ID, &created, &c.Name, &c.Train, &c.BeatsPerHour, &c.BeatsPerTooth, &c.HourArbor, &c.Rod, &c.NutPitch, &c.Zone)
	c.Created = at(created)
	return c, err
}

// Clocks returns the clocks in the order in which they were added.
func (b *Book) Clocks(ctx context.Context) ([]sessions.Clock, error) {
	if err := b.whole(ctx, "clocks", "clock_versions", "clock_uses"); err != nil {
		return nil, err
	}
	return query(ctx, b, "reading the clocks", scanClock, clockRows+" ORDER BY c.id")
}

// ClockByName returns the clock of that name, in whatever case. The error for an
// unknown name is of KindUnknown and names the clocks there are.
func (b *Book) ClockByName(ctx context.Context, name string) (sessions.Clock, error) {
	clocks, err := b.Clocks(ctx)
	if err != nil {
		return sessions.Clock{}, err
	}
	names := make([]string, 0, len(clocks))
	for _, c := range clocks {
		if strings.EqualFold(c.Name, name) {
			return c, nil
		}
		names = append(names, strconv.Quote(c.Name))
	}
	e := &Error{Path: b.path, Kind: KindUnknown, What: fmt.Sprintf("no clock %q in the book", name), Remedy: "it holds " + strings.Join(names, ", ")}
	if len(names) == 0 {
		e.Remedy = "it holds none yet: add one first"
	}
	return sessions.Clock{}, e
}

// Clock returns the clock of that number. The error for an unknown one is of KindUnknown.
func (b *Book) Clock(ctx context.Context, id int64) (sessions.Clock, error) {
	clocks, err := b.Clocks(ctx)
	if err != nil {
		return sessions.Clock{}, err
	}
	for _, c := range clocks {
		if c.ID == id {
			return c, nil
		}
	}
	return sessions.Clock{}, b.unknown("clock", id)
}

// UseClock makes the clock the one that CurrentClock returns.
func (b *Book) UseClock(ctx context.Context, id int64) error {
	return b.write(ctx, "choosing a clock", func(tx *sql.Tx) error {
		if err := b.must(ctx, tx, "clock", "clocks", id); err != nil {
			return err
		}
		_, err := insert(ctx, tx, "INSERT INTO clock_uses (clock_id, at_ns) VALUES (?, ?)", id, b.now().UnixNano())
		return err
	})
}

// CurrentClock returns the clock last given to UseClock, or the only one there
// is; false if neither.
func (b *Book) CurrentClock(ctx context.Context) (sessions.Clock, bool, error) {
	clocks, err := b.Clocks(ctx)
	if err != nil {
		return sessions.Clock{}, false, err
	}
	var id int64
	err = b.db.QueryRowContext(ctx, "SELECT clock_id FROM clock_uses ORDER BY id DESC LIMIT 1").Scan(&id)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return sessions.Clock{}, false, fail(b.path, "reading the clock in hand", err)
	}
	for _, c := range clocks {
		if c.ID == id || err != nil && len(clocks) == 1 {
			return c, true, nil
		}
	}
	return sessions.Clock{}, false, nil
}
