package book

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"iter"
	"slices"
	"strings"

	"evenbeat/sessions"
)

// mergeClock is a clock as merging knows it again.
type mergeClock struct {
	id      int64
	created int64
	written int64 // when it was described first
	clock   sessions.Clock
	taken   bool // a clock of the other book is this one
}

func mergeClocks(ctx context.Context, tx *sql.Tx) ([]*mergeClock, error) {
	return collect(ctx, tx, func(rows *sql.Rows) (*mergeClock, error) {
		c := &mergeClock{}
		err := rows.Scan(&c.id, &c.created, &c.written, &c.clock.Name, &c.clock.Train, &c.clock.BeatsPerHour)
		return c, err
	}, `SELECT c.id, c.created_ns, (SELECT min(written_ns) FROM clock_versions WHERE clock_id = c.id), v.name, v.train, v.beats_per_hour
FROM clocks c JOIN clock_versions v ON v.id = (SELECT max(id) FROM clock_versions WHERE clock_id = c.id) ORDER BY c.id`)
}

// same: both books have it from one of which each is a copy, or one has it from the other.
func (c *mergeClock) same(o *mergeClock) bool {
	a, b := strings.ToLower(c.clock.Name), strings.ToLower(o.clock.Name)
	return c.created == o.created && c.written == o.written && (a == b || strings.HasPrefix(a, b+" (") || strings.HasPrefix(b, a+" ("))
}

// may report whether two clocks of one name can be one.
func (c *mergeClock) may(o *mergeClock) bool {
	a, b := c.clock, o.clock
	return strings.EqualFold(a.Name, b.Name) && (a.Train == "" || b.Train == "" || a.Train == b.Train) &&
		(a.BeatsPerHour == 0 || b.BeatsPerHour == 0 || a.BeatsPerHour == b.BeatsPerHour)
}

// Clash reports whether two books each hold a clock of this name that can't be one.
func Clash(ctx context.Context, one, other, name string) (clash bool, err error) {
	var named [2]*mergeClock
	for i, path := range []string{one, other} {
		b, err := openSource(ctx, path, Options{})
		if err != nil {
			return false, err
		}
		tx, err := b.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
		if err == nil {
			var all []*mergeClock
			all, err = mergeClocks(ctx, tx)
			if at := slices.IndexFunc(all, func(c *mergeClock) bool { return strings.EqualFold(c.clock.Name, name) }); at >= 0 {
				named[i] = all[at]
			}
			err = errors.Join(err, tx.Rollback())
		}
		if err := errors.Join(fail(path, "reading its clocks", err), b.Close()); err != nil {
			return false, err
		}
	}
	c, o := named[0], named[1]
	return c != nil && o != nil && !c.same(o) && !c.may(o), nil
}

// clocks finds or adds the other book's clocks, and adds what it tells of them.
func (m *merging) clocks(ctx context.Context) error {
	mine, err := mergeClocks(ctx, m.tx)
	if err != nil {
		return err
	}
	theirs, err := mergeClocks(ctx, m.other)
	if err != nil {
		return err
	}
	names := map[int64]string{} // by number in this book
	left := theirs
	for _, like := range []func(c, o *mergeClock) bool{
		func(c, o *mergeClock) bool { return c.same(o) && strings.EqualFold(c.clock.Name, o.clock.Name) },
		(*mergeClock).same,
		(*mergeClock).may,
	} {
		var none []*mergeClock
		for _, o := range left {
			at := slices.IndexFunc(mine, func(c *mergeClock) bool { return !c.taken && like(c, o) })
			if at < 0 {
				none = append(none, o)
				continue
			}
			c := mine[at]
			c.taken = true
			names[c.id] = c.clock.Name
			m.met("clocks", o.id, c.id)
			m.report.Clocks = append(m.report.Clocks, MergedClock{From: o.clock.Name, Name: c.clock.Name, Joined: !c.same(o)})
			m.count("clocks", 0, 1)
		}
		left = none
	}
	for _, o := range left {
		name := o.clock.Name
		for n := 2; slices.ContainsFunc(mine, func(c *mergeClock) bool { return strings.EqualFold(c.clock.Name, name) }); n++ {
			name = fmt.Sprintf("%s (%d)", o.clock.Name, n)
		}
		id, err := m.put(ctx, "clocks", rawRow{[]string{"id", "created_ns"}, []any{o.id, o.created}})
		if err != nil {
			return err
		}
		c := &mergeClock{id: id, taken: true}
		c.clock.Name = name
		mine = append(mine, c)
		names[id] = name
		m.met("clocks", o.id, id)
		m.report.Clocks = append(m.report.Clocks, MergedClock{From: o.clock.Name, Name: name, New: true})
		m.count("clocks", 1, 0)
	}
	return m.descriptions(ctx, names)
}

// descriptions adds those of the clocks that this book doesn't have, under the names that
// they have here.
func (m *merging) descriptions(ctx context.Context, names map[int64]string) error {
	here := func(r rawRow) {
		m.translate(r, ofClockAlone)
		*r.at("name") = names[(*r.at("clock_id")).(int64)]
	}
	t := mergeTable{name: "clock_versions", once: true}
	return m.ruling(ctx, "clock_versions", "clock_id", "written_ns", here, func() error { return m.rowsAs(ctx, t, here) })
}

// sessions finds or adds the other book's sessions with their beats. One that was still
// recorded when a book was copied may have more beats in the other.
func (m *merging) sessions(ctx context.Context) error {
	mine := map[[16]byte][]int64{}
	likeness := func(r rawRow, ended any) [16]byte {
		same := r.columns[1:]
		if *r.at("port") == "" && *r.at("started_ns") == ended {
			same = []string{"clock_id", "kind"} // beats from a file, at the time of their import
		}
		return r.fingerprint(same)
	}
	ends := func(tx *sql.Tx) (map[int64]any, error) {
		ended := map[int64]any{}
		return ended, each(ctx, tx, "session_ends", func(r rawRow) error {
			ended[r.id()] = r.values[1]
			return nil
		})
	}
	ended, err := ends(m.tx)
	if err != nil {
		return err
	}
	if err := each(ctx, m.tx, "sessions", func(r rawRow) error {
		f := likeness(r, ended[r.id()])
		mine[f] = append(mine[f], r.id())
		return nil
	}); err != nil {
		return err
	}
	if ended, err = ends(m.other); err != nil {
		return err
	}
	return each(ctx, m.other, "sessions", func(r rawRow) error {
		theirs := r.id()
		m.translate(r, ofClockAlone)
		f := likeness(r, ended[theirs])
		imported := f != r.fingerprint(r.columns[1:])
		for i, id := range mine[f] {
			if agree, err := m.beatsAgree(ctx, theirs, id, imported); err != nil {
				return err
			} else if agree {
				mine[f] = slices.Delete(mine[f], i, i+1)
				m.met("sessions", theirs, id)
				m.count("sessions", 0, 1)
				return m.beats(ctx, theirs, id)
			}
		}
		id, err := m.put(ctx, "sessions", r)
		if err != nil {
			return err
		}
		m.met("sessions", theirs, id)
		m.count("sessions", 1, 0)
		return m.beats(ctx, theirs, id)
	})
}

// beatsAgree reports whether one of two sessions has the beats of the other, and perhaps
// more. Of imported ones the counts alone are compared, and must be as many.
func (m *merging) beatsAgree(ctx context.Context, theirs, mine int64, imported bool) (bool, error) {
	a, b, err := m.beatCounts(ctx, theirs, mine)
	if err != nil || imported && a != b {
		return false, err
	}
	if imported {
		x, err := digestCounts(ctx, m.other, theirs)
		if err != nil {
			return false, err
		}
		y, err := digestCounts(ctx, m.tx, mine)
		return x == y, err
	}
	x, err := digestBeats(beatsBetween(m.from.Beats(ctx, theirs), 0, min(a, b)))
	if err != nil {
		return false, err
	}
	y, err := digestBeats(beatsBetween(m.into.Beats(ctx, mine), 0, min(a, b)))
	return x == y, err
}

func (m *merging) beatCounts(ctx context.Context, theirs, mine int64) (a, b int64, err error) {
	if err = m.other.QueryRowContext(ctx, countBeats, theirs).Scan(&a); err == nil {
		err = m.tx.QueryRowContext(ctx, countBeats, mine).Scan(&b)
	}
	return a, b, err
}

// beats adds those of the other book's session that come behind this one's.
func (m *merging) beats(ctx context.Context, theirs, mine int64) error {
	a, b, err := m.beatCounts(ctx, theirs, mine)
	if err != nil {
		return err
	}
	m.count("beat_chunks", max(0, a-b), min(a, b))
	if a <= b {
		return nil
	}
	_, err = putBeats(ctx, m.tx, mine, b, beatsBetween(m.from.Beats(ctx, theirs), b, a))
	return err
}

// beatsBetween are the beats from one number up to another.
func beatsBetween(beats iter.Seq2[[]sessions.Beat, error], from, to int64) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		var n int64
		for some, err := range beats {
			if err != nil {
				yield(nil, err)
				return
			}
			first, last := max(from-n, 0), min(to-n, int64(len(some)))
			n += int64(len(some))
			if first < last && !yield(some[first:last], nil) || n >= to {
				return
			}
		}
	}
}

func digestBeats(beats iter.Seq2[[]sessions.Beat, error]) ([sha256.Size]byte, error) {
	h := sha256.New()
	for some, err := range beats {
		if err != nil {
			return [sha256.Size]byte{}, err
		}
		for _, x := range some {
			writeBeat(h, x)
		}
	}
	return [sha256.Size]byte(h.Sum(nil)), nil
}

func writeBeat(h hash.Hash, x sessions.Beat) {
	b := binary.BigEndian.AppendUint64(make([]byte, 0, 32), x.Count)
	b = binary.BigEndian.AppendUint64(b, uint64(x.HostMono))
	b = binary.BigEndian.AppendUint64(b, uint64(x.HostUTC))
	b = binary.BigEndian.AppendUint16(b, uint16(x.Edge))
	h.Write(append(b, byte(b2i(x.Break))))
}
