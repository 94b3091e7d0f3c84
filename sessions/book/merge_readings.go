package book

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
)

// likeReading is a reading by what stays the same in an export.
type likeReading struct {
	id, session, clock int64
	part               string
	taken              bool
}

// likeReadings returns the readings by what they say, under the clock and part that they
// have now, with the numbers of their rows.
func likeReadings(ctx context.Context, tx *sql.Tx, take func(says string, r likeReading) error) error {
	rows, err := tx.QueryContext(ctx, `SELECT r.id, coalesce(r.session_id, 0), coalesce(m.clock_id, r.clock_id), coalesce(m.part, r.part), r.at_ns, r.dimension, r.value, r.text, r.instrument
FROM readings r`+latestMove+`r.session_id) ORDER BY r.id`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var r likeReading
		var ns int64
		var value float64
		var dimension, text, instrument string
		if err := rows.Scan(&r.id, &r.session, &r.clock, &r.part, &ns, &dimension, &value, &text, &instrument); err != nil {
			return err
		}
		if err := take(fmt.Sprintf("%d %q %v %q %q", ns, dimension, value, text, instrument), r); err != nil {
			return err
		}
	}
	return rows.Err()
}

// readings adds those that this book doesn't hold. One of a session is known again in that
// session; one that came from an export by the clock and part that it has now.
func (m *merging) readings(ctx context.Context) error {
	mine := map[string][]*likeReading{}
	if err := likeReadings(ctx, m.tx, func(says string, r likeReading) error {
		mine[says] = append(mine[says], &r)
		return nil
	}); err != nil {
		return err
	}
	known := map[int64]bool{}
	if err := likeReadings(ctx, m.other, func(says string, o likeReading) error {
		o.session, o.clock = m.ids["sessions"][o.session], m.ids["clocks"][o.clock]
		at := slices.IndexFunc(mine[says], func(r *likeReading) bool { return !r.taken && o.session != 0 && r.session == o.session })
		if at < 0 {
			at = slices.IndexFunc(mine[says], func(r *likeReading) bool {
				return !r.taken && (o.session == 0 || r.session == 0) && r.clock == o.clock && r.part == o.part
			})
		}
		if at >= 0 {
			mine[says][at].taken = true
			m.met("readings", o.id, mine[says][at].id)
			known[o.id] = true
		}
		return nil
	}); err != nil {
		return err
	}
	return each(ctx, m.other, "readings", func(r rawRow) error {
		theirs := r.id()
		if known[theirs] {
			m.count("readings", 0, 1)
			return nil
		}
		m.translate(r, map[string]string{"clock_id": "clocks", "session_id": "sessions"})
		id, err := m.put(ctx, "readings", r)
		m.met("readings", theirs, id)
		m.count("readings", 1, 0)
		return err
	})
}
