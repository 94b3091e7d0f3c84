package book

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/ncruces/go-sqlite3"

	"evenbeat/sessions"
)

// Report is what Check found.
type Report struct {
	Path     string   `json:"path"`               // file of the book
	Layout   int      `json:"layout"`             // of the schema
	LogPages int64    `json:"log_pages"`          // that lie in the log beside the book's file, and not in it yet
	Problems []string `json:"problems,omitempty"` // one sentence each; none means that the book is sound
	Counts   []Count  `json:"counts"`             // of what could be counted
}

// Count is how many rows of a thing the book holds.
type Count struct {
	Thing string `json:"thing"` // rows of a table, or beats
	N     int64  `json:"n"`     // how many
}

// OK reports whether the book is sound.
func (r Report) OK() bool { return len(r.Problems) == 0 }

// mostProblems bounds the report of a book that is broken all over.
const mostProblems = 100

// Check reads the whole book: SQLite's own check of the file, its references, the
// checksum and order of each chunk of beats, and whether all that was acknowledged is
// there. What it finds is in the report; the error is for what kept it from looking.
func (b *Book) Check(ctx context.Context) (Report, error) {
	r := Report{Path: b.path}
	if err := b.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&r.Layout); err != nil {
		return r, fail(b.path, "checking", err)
	}
	for _, step := range []func(context.Context, *Report) error{b.checkLog, b.checkFile, b.checkReferences, b.checkBeats, b.count} {
		if err := step(ctx, &r); err != nil {
			// A page that can't be read is a finding, not a failure to look.
			if e, ok := asDamaged(fail(b.path, "checking", err)); ok {
				if r.OK() { // else the page is named already
					r.add(e.Error())
				}
				continue
			}
			return r, fail(b.path, "checking", err)
		}
	}
	return r, nil
}

func (r *Report) add(problem string) {
	if len(r.Problems) < mostProblems {
		r.Problems = append(r.Problems, problem)
	}
}

// checkLog tells what of the book its file alone doesn't hold, without folding it in.
func (b *Book) checkLog(ctx context.Context, r *Report) error {
	for _, rows := range b.lost {
		r.add(rows + ": acknowledged, and not in the book: its log is gone or damaged, or the file is an older copy")
	}
	var blocked, pages, folded int64
	err := b.db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(noop)").Scan(&blocked, &pages, &folded)
	if errors.Is(err, sqlite3.READONLY) {
		return nil // SQLite counts no pages of a log that may not be written
	}
	r.LogPages = max(pages-folded, 0) // -1 and -1 where the file is read without a log
	return err
}

func (b *Book) checkFile(ctx context.Context, r *Report) error {
	said, err := collect(ctx, b.db, func(rows *sql.Rows) (string, error) {
		var s string
		err := rows.Scan(&s)
		return s, err
	},
		fmt.Sprintf("PRAGMA integrity_check(%d)", mostProblems))
	// A page that can't be read may end the walk, with what was found before it.
	roots, errRoots := b.roots(ctx)
	if errRoots != nil {
		return errors.Join(err, errRoots)
	}
	var others []string
	damaged := false
	for _, s := range said {
		for line := range strings.Lines(s) {
			line = strings.TrimSpace(line)
			if at := unreadable.FindStringSubmatch(line); at != nil {
				damaged = true
				r.add(fmt.Sprintf("%s: page %s of the file is damaged, or another program wrote to it", cmp.Or(roots[at[1]], "the file"), at[2]))
			} else if line != "ok" && !strings.HasPrefix(line, "*** in database") {
				others = append(others, line)
			}
		}
	}
	for _, s := range others {
		// Pages below one that can't be read look unused; that says nothing more.
		if !damaged || !strings.HasSuffix(s, "never used") {
			r.add("file: " + s)
		}
	}
	if damaged {
		return nil
	}
	return err
}

// unreadable is how SQLite's own check names a page that it can't read, by the root of
// the table or index that the page is in.
var unreadable = regexp.MustCompile(`^Tree (\d+).*page (\d+).*unable to get the page`)

// roots returns the names of tables and indices by the numbers of their root pages.
func (b *Book) roots(ctx context.Context) (map[string]string, error) {
	names := map[string]string{}
	_, err := collect(ctx, b.db, func(rows *sql.Rows) (struct{}, error) {
		var root, kind, name, table string
		err := rows.Scan(&root, &kind, &name, &table)
		if names[root] = name; kind == "index" {
			names[root] = "the index of " + table
		}
		return struct{}{}, err
	}, "SELECT rootpage, type, name, tbl_name FROM sqlite_schema WHERE rootpage > 0")
	return names, err
}

func (b *Book) checkReferences(ctx context.Context, r *Report) error {
	lost, err := collect(ctx, b.db, func(rows *sql.Rows) (string, error) {
		var table, parent string
		var id, key sql.NullInt64
		err := rows.Scan(&table, &id, &parent, &key)
		return fmt.Sprintf("%s, row %d: points at a row of %s that isn't there", table, id.Int64, parent), err
	}, "PRAGMA foreign_key_check")
	for _, s := range lost {
		r.add(s)
	}
	return err
}

func (b *Book) checkBeats(ctx context.Context, r *Report) error {
	rows, err := b.db.QueryContext(ctx, "SELECT session_id, first_beat, beats, data FROM beat_chunks ORDER BY session_id, first_beat")
	if err != nil {
		return err
	}
	defer rows.Close()
	var chunk []sessions.Beat
	var data sql.RawBytes
	var session, next int64
	for rows.Next() {
		var id, first, n int64
		if err := rows.Scan(&id, &first, &n, &data); err != nil {
			return err
		}
		if id != session {
			session, next = id, 0
		}
		if chunk, err = decodeChunk(chunk, data); err != nil {
			r.add(fmt.Sprintf("session %d, beats from %d: %v", id, first, err))
		} else if int64(len(chunk)) != n {
			r.add(fmt.Sprintf("session %d, beats from %d: %d told, %d held", id, first, n, len(chunk)))
		}
		if first != next {
			r.add(fmt.Sprintf("session %d: a chunk begins at beat %d where %d was due", id, first, next))
		}
		next = first + n
	}
	return rows.Err()
}

func (b *Book) count(ctx context.Context, r *Report) error {
	for _, c := range []struct{ thing, stmt string }{
		{"clocks", "SELECT count(*) FROM clocks"},
		{"sessions", "SELECT count(*) FROM sessions"},
		{"readings", "SELECT count(*) FROM readings"},
		{"undone", "SELECT count(*) FROM marks"},
		{"faults", "SELECT count(*) FROM faults"},
		{"beats", "SELECT coalesce(sum(beats), 0) FROM beat_chunks"},
		{"reference times", "SELECT count(*) FROM reference_times"},
		{"checks", "SELECT count(*) FROM checks"},
		{"events", "SELECT count(*) FROM events"},
		{"air samples", "SELECT count(*) FROM air"},
		{"particulars", "SELECT count(*) FROM particulars"},
	} {
		var n int64
		if err := b.db.QueryRowContext(ctx, c.stmt).Scan(&n); err != nil {
			return err
		}
		r.Counts = append(r.Counts, Count{c.thing, n})
	}
	return nil
}
