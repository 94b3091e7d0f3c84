package book

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/ncruces/go-sqlite3"
)

// foundChunk is a whole chunk of beats in the damaged file.
type foundChunk struct {
	id, session, first, beats int64
	page                      uint32
	cell                      int
}

// findChunks finds the chunks that are whole. Of those that hold the same beats the
// largest counts: it took the place of the others, which are left over.
func (s *salvage) findChunks() {
	var found []foundChunk
	t := s.table("beat_chunks")
	for _, l := range t.leaves {
		p, ok := s.f.Page(l.page)
		if !ok {
			continue
		}
		cell := -1
		s.rows(t, p, func(id int64, row []any, whole bool) {
			cell++
			var r chunkReader
			if !whole {
				return
			}
			c := foundChunk{id: id, session: row[1].(int64), first: row[2].(int64), beats: row[3].(int64), page: l.page, cell: cell}
			if r.open(row[4].([]byte)) == nil && int64(r.n) == c.beats && c.first >= 0 && c.first < math.MaxInt64-maxChunkBeats {
				found = append(found, c)
			}
		})
	}
	slices.SortStableFunc(found, func(a, b foundChunk) int { return cmp.Compare(b.beats, a.beats) })
	for _, c := range found {
		at, _ := s.chunkAt(c.session, c.first)
		// Kept chunks don't overlap, so only the neighbours can hold some of its beats.
		before := at > 0 && s.chunks[at-1].session == c.session && s.chunks[at-1].first+s.chunks[at-1].beats > c.first
		after := at < len(s.chunks) && s.chunks[at].session == c.session && s.chunks[at].first < c.first+c.beats
		if !before && !after {
			s.chunks = slices.Insert(s.chunks, at, c)
		}
	}
}

// chunkAt is the place of a session's chunk that begins with a beat.
func (s *salvage) chunkAt(session, first int64) (int, bool) {
	return slices.BinarySearchFunc(s.chunks, foundChunk{session: session, first: first}, func(a, b foundChunk) int {
		return cmp.Or(cmp.Compare(a.session, b.session), cmp.Compare(a.first, b.first))
	})
}

// putChunks puts the chunks into the new book. A book numbers a session's beats without
// a gap, so those that follow lost ones move up, behind a break: nobody takes them for
// the next beats then.
func (s *salvage) putChunks(ctx context.Context, t *salvageTable) error {
	put, err := s.tx.PrepareContext(ctx, "INSERT INTO beat_chunks (id, session_id, first_beat, beats, data) VALUES (?, ?, ?, ?, ?)")
	if err != nil {
		return err
	}
	defer func() { _ = put.Close() }() // the transaction closes it too, and its fate is the answer
	var was, next foundChunk           // as numbered in the file, and in the new book
	for _, c := range s.chunks {
		if c.session != was.session {
			was, next = foundChunk{session: c.session}, foundChunk{session: c.session}
		}
		p, _ := s.f.Page(c.page)
		row, _ := s.row(t, p.Cells[c.cell])
		data := row[4].([]byte)
		if due := was.first + was.beats; c.first != due {
			s.lost("session %d: beats %d to %d are lost; those behind are numbered on from %d, after a break", c.session, due, c.first-1, next.first)
			if data, err = afterBreak(data); err != nil {
				return err
			}
		}
		if err := s.parents(ctx, t, row); err != nil {
			return err
		}
		if _, err := put.ExecContext(ctx, c.id, c.session, next.first, c.beats, data); err != nil {
			if !errors.Is(err, sqlite3.CONSTRAINT) {
				return err
			}
			t.lose(c.id, fmt.Sprintf("beats %d to %d of session %d: %s", c.first, c.first+c.beats-1, c.session, t.refusal(err)))
			was = c
			continue
		}
		t.sum.Saved++
		was, next.first = c, next.first+c.beats
	}
	s.loseChunks(t)
	return nil
}

// afterBreak returns a chunk with a break before its first beat.
func afterBreak(data []byte) ([]byte, error) {
	beats, err := decodeChunk(nil, data)
	if err != nil {
		return nil, err
	}
	beats[0].Break = true
	return encodeChunk(nil, beats)
}

// loseChunks lists the chunks that the index names and of which no chunk has the beats.
func (s *salvage) loseChunks(t *salvageTable) {
	for _, x := range t.indices {
		s.entries(x, func(id int64, values []any) {
			session, first, beats, ok := ints(values)
			if ok && !s.holds(session, first, first+beats) {
				t.lose(id, fmt.Sprintf("lost; beats %d to %d of session %d", first, first+beats-1, session))
			}
		})
	}
}

func ints(values []any) (a, b, c int64, ok bool) {
	if len(values) != 3 {
		return 0, 0, 0, false
	}
	a, one := values[0].(int64)
	b, two := values[1].(int64)
	c, three := values[2].(int64)
	return a, b, c, one && two && three
}

// holds reports whether the chunks hold a session's beats from first up to end.
func (s *salvage) holds(session, first, end int64) bool {
	at, exact := s.chunkAt(session, first)
	if !exact {
		at-- // the chunk before may reach over it
	}
	for ; first < end; at++ {
		if at < 0 || at >= len(s.chunks) || s.chunks[at].session != session || s.chunks[at].first > first {
			return false
		}
		first = max(first, s.chunks[at].first+s.chunks[at].beats)
	}
	return true
}
