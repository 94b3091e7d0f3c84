package book

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"strings"
)

// tallySuffix names the file beside the book that tells the number of each table's last
// acknowledged row. It lies outside the log, so a log that is lost or damaged after a
// kill can't take it along. The last program to close the book removes it.
const tallySuffix = "-tally"

// tallied is the number of a table's last row.
type tallied struct {
	table string
	last  int64
}

// tallyEnd is the last line of a tally that was written whole.
const tallyEnd = "end"

// tally returns the number of the last row in each table of a database, or of some tables
// what a statement of their own tells.
func tally(ctx context.Context, db *sql.DB, own map[string]string) ([]tallied, error) {
	tables, err := collect(ctx, db, func(rows *sql.Rows) (s string, err error) { return s, rows.Scan(&s) },
		"SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
	if err != nil {
		return nil, err
	}
	for i, t := range tables {
		last := own[t]
		if last == "" {
			last = "max(rowid) FROM " + t
		}
		tables[i] = fmt.Sprintf("SELECT '%s', coalesce((SELECT %s), 0)", t, last)
	}
	return collect(ctx, db, func(rows *sql.Rows) (t tallied, err error) { return t, rows.Scan(&t.table, &t.last) },
		strings.Join(tables, " UNION ALL "))
}

// Newest returns a text that differs whenever something was added to the book by which what
// is found of a clock may change. What instruments send of other clocks is passed over: they
// may do so for days.
func (b *Book) Newest(ctx context.Context, clock int64) (string, error) {
	const (
		moved    = "(SELECT session_id FROM session_moves WHERE id IN (SELECT max(id) FROM session_moves GROUP BY session_id) AND clock_id "
		here     = moved + "= %[1]d)"
		sessions = "sessions s WHERE clock_id = %[1]d AND id NOT IN " + moved + "<> %[1]d) OR id IN " + here
	)
	own := map[string]string{
		// No index finds readings by their session, so all count of the clocks that one was moved from.
		"readings":    "max(id) FROM readings WHERE clock_id IN (SELECT %[1]d UNION SELECT clock_id FROM sessions WHERE id IN " + here + ")",
		"faults":      "max((SELECT max(id) FROM faults WHERE session_id = s.id)) FROM " + sessions,
		"beat_chunks": "sum((SELECT max(first_beat) + 1 FROM beat_chunks WHERE session_id = s.id)) FROM " + sessions, // an index tells this at once
	}
	for t, last := range own {
		own[t] = fmt.Sprintf(last, clock)
	}
	all, err := tally(ctx, b.db, own)
	if err != nil {
		return "", fail(b.path, "reading", err)
	}
	return fmt.Sprint(all), nil
}

// keepTally writes the tally anew. It only ever grows, so that no part of an older one is
// left behind the new one's end. It is not synced: it never tells more than the log holds,
// which is.
func (b *Book) keepTally(ctx context.Context) error {
	all, err := tally(ctx, b.db, nil)
	if err != nil {
		return err
	}
	var text strings.Builder
	for _, t := range all {
		fmt.Fprintln(&text, t.table, t.last)
	}
	fmt.Fprintln(&text, tallyEnd)
	f, err := os.OpenFile(b.path+tallySuffix, os.O_WRONLY|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteAt([]byte(text.String()), 0)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// readTally returns what the tally beside a book tells, nothing where there is none or
// where it was not written whole.
func readTally(path string) []tallied {
	data, err := os.ReadFile(path + tallySuffix)
	if err != nil {
		return nil
	}
	var all []tallied
	for line := range strings.Lines(string(data)) {
		if line == tallyEnd+"\n" {
			return all
		}
		var t tallied
		if n, err := fmt.Sscanf(line, "%s %d\n", &t.table, &t.last); n != 2 || err != nil {
			return nil
		}
		all = append(all, t)
	}
	return nil
}

// beyond says which rows of a tally lie behind the last ones that are there.
func beyond(told, there []tallied) []string {
	var missing []string
	for _, is := range there {
		for _, t := range told {
			if n := t.last - is.last; t.table != is.table || n <= 0 {
				continue
			} else if n == 1 {
				missing = append(missing, fmt.Sprintf("%s, row %d", t.table, t.last))
			} else {
				missing = append(missing, fmt.Sprintf("%s, %d rows from %d to %d", t.table, n, is.last+1, t.last))
			}
		}
	}
	return missing
}

// findLost holds the tally against the book.
func (b *Book) findLost(ctx context.Context, told []tallied) {
	if len(told) == 0 {
		return
	}
	// Where a table can't be read, that is told by whoever needs it.
	if there, err := tally(ctx, b.db, nil); err == nil {
		b.lost = beyond(told, there)
	}
}

// Lost returns an error of KindDamaged if rows were acknowledged that the book no longer
// holds, as when its log is gone after a kill. What it still holds can be read; nothing
// is added to it.
func (b *Book) Lost() error {
	if len(b.lost) == 0 {
		return nil
	}
	return &Error{Path: b.path, Kind: KindDamaged, Remedy: damageRemedy,
		What: "book " + b.path + ": what was acknowledged is not there: " + strings.Join(b.lost, "; ") + "; its log is gone or damaged, or the file is an older copy"}
}

// dropTally removes the tally once all of the log is in the book's file.
func (b *Book) dropTally() error {
	if !b.accepted.Load() || b.readOnly || b.at != "" || exists(b.path+"-wal") {
		return nil
	}
	return remove(b.path + tallySuffix)
}
