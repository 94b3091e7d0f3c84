package book

import (
	"context"
	"database/sql"

	"evenbeat/sessions"
)

const particularRows = "SELECT id, clock_id, at_ns, part, name, value FROM particulars"

// AddParticulars records what was told or seen, all of it or nothing, and returns the
// numbers. Each has a name of sessions.ParticularNames.
func (b *Book) AddParticulars(ctx context.Context, all []sessions.Particular) ([]int64, error) {
	return add(ctx, b, "recording particulars", all, func(ctx context.Context, tx runner, all []sessions.Particular) ([]int64, error) {
		ids := make([]int64, len(all))
		for i, p := range all {
			var err error
			if ids[i], err = b.addParticular(ctx, tx, p); err != nil {
				return nil, err
			}
		}
		return ids, nil
	})
}

func (b *Book) addParticular(ctx context.Context, tx runner, p sessions.Particular) (int64, error) {
	if _, ok := sessions.KnownParticular(p.Name); !ok || p.Value == "" {
		return 0, inputError(b.path, "particular %q: %q can't be recorded under that name", p.Name, p.Value)
	}
	return b.insertOf(ctx, tx, ofClock{"particular", p.ClockID, p.At, nil},
		"INSERT INTO particulars (clock_id, at_ns, part, name, value) VALUES (?, ?, ?, ?, ?)", p.Part, p.Name, p.Value)
}

func scanParticular(rows *sql.Rows) (sessions.Particular, error) {
	var p sessions.Particular
	var ns int64
	err := rows.Scan(&p.ID, &p.ClockID, &ns, &p.Part, &p.Name, &p.Value)
	p.At = at(ns)
	return p, err
}
