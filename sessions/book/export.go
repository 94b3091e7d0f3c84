package book

import (
	"bufio"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"hash"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"evenbeat/sessions"
)

// A clock's whole record goes out as one JSON object:
//
//	{"layout": 9, "rows": [
//	{"table": "clocks", "id": 1, "created_ns": 1772352000000000000},
//	…
//	], "count": 5124, "sha256": "9f86…"}
//
// layout is that of the book, whose scripts under migrations say what each table and
// column means. Rows come in an order in which what a row points at stands before it; null
// is left out. Text that is not UTF-8 stands as {"base64": "…"}. A row of beat_chunks has
// its beats as lists of numbers: count, host_mono_ns and host_utc_ns, and where not all of
// them are zero, edge and break. sha256 is of all rows as exportRow writes them, each with
// its line feed, so that a changed digit is seen, and a changed blank does no harm.

// exportTables are the tables of a record, and which rows of each are of one clock. Which
// clock is in hand is no part of it.
func exportTables(clock int64) [][2]string {
	const (
		ses      = "(SELECT s.id FROM sessions s" + latestMove + "s.id) WHERE coalesce(m.clock_id, s.clock_id) = %[1]d)"
		ofSes    = "session_id IN " + ses
		readings = "session_id IN " + ses + " OR session_id IS NULL AND clock_id = %[1]d"
		// A session that was moved here points at the clock that it was begun with.
		clocks = "(SELECT %[1]d UNION SELECT clock_id FROM sessions WHERE id IN " + ses + " UNION SELECT clock_id FROM session_moves WHERE " + ofSes +
			" UNION SELECT clock_id FROM readings WHERE " + ofSes + ")"
	)
	tables := [][2]string{{"clocks", "id IN " + clocks}, {"clock_versions", "clock_id IN " + clocks}, {"sessions", "id IN " + ses}}
	for _, t := range []string{"session_ends", "session_moves", "faults", "reference_times", "host_readings", "beat_chunks"} {
		tables = append(tables, [2]string{t, ofSes})
	}
	tables = append(tables, [2]string{"readings", readings}, [2]string{"marks", "reading_id IN (SELECT id FROM readings WHERE " + readings + ")"})
	taken := []string{"thing = 'session' AND row_id IN " + ses}
	for _, t := range Things() {
		if t != ThingReading && t != ThingSession {
			tables = append(tables, [2]string{t.table(), "clock_id = %[1]d"})
			taken = append(taken, fmt.Sprintf("thing = '%s' AND row_id IN (SELECT id FROM %s WHERE clock_id = %%[1]d)", t, t.table()))
		}
	}
	tables = append(tables, [2]string{"withdrawals", strings.Join(taken, " OR ")})
	for i := range tables {
		tables[i][1] = fmt.Sprintf(tables[i][1], clock)
	}
	return tables
}

// Export writes all that the book holds of a clock as a JSON object, from which ReadExport
// makes a book again. Damage anywhere in the book is an error.
func (b *Book) Export(ctx context.Context, w io.Writer, clock int64) (err error) {
	if err := b.intact(ctx, "1", "it is damaged, and isn't exported whole"); err != nil {
		return err
	}
	tx, err := b.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return fail(b.path, "exporting", err)
	}
	defer func() { _ = tx.Rollback() }() // it was only read
	var layout int
	if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&layout); err != nil {
		return fail(b.path, "exporting", err)
	}
	out := exporting{to: bufio.NewWriter(w), sum: sha256.New()}
	fmt.Fprintf(out.to, "{\"layout\": %d, \"rows\": [", layout)
	for _, t := range exportTables(clock) {
		err := each(ctx, tx, t[0]+" WHERE "+t[1], func(r rawRow) error { return out.row(t[0], r) })
		if err != nil {
			return fail(b.path, "exporting its "+t[0], err)
		}
	}
	fmt.Fprintf(out.to, "\n], \"count\": %d, \"sha256\": \"%x\"}", out.count, out.sum.Sum(nil))
	return out.to.Flush()
}

// exporting is one run of Export.
type exporting struct {
	to    *bufio.Writer
	sum   hash.Hash
	count int64
	line  []byte
	beats []sessions.Beat
}

func (e *exporting) row(table string, r rawRow) (err error) {
	if table == "beat_chunks" {
		data, _ := (*r.at("data")).([]byte)
		if e.beats, err = decodeChunk(e.beats, data); err != nil {
			return err
		}
	}
	e.line = append(exportRow(e.line[:0], table, r, e.beats), '\n')
	e.sum.Write(e.line)
	if e.count++; e.count > 1 {
		e.to.WriteByte(',')
	}
	e.to.WriteByte('\n')
	_, err = e.to.Write(e.line[:len(e.line)-1])
	return err
}

// exportRow appends a row as JSON. A row of beat_chunks has these beats.
func exportRow(dst []byte, table string, r rawRow, beats []sessions.Beat) []byte {
	dst = append(append(append(dst, `{"table": "`...), table...), '"')
	for i, column := range r.columns {
		if table == "beat_chunks" && (column == "beats" || column == "data") || r.values[i] == nil {
			continue
		}
		dst = append(append(append(dst, `, "`...), column...), `": `...)
		switch v := r.values[i].(type) {
		case int64:
			dst = strconv.AppendInt(dst, v, 10)
		case float64:
			dst = strconv.AppendFloat(dst, v, 'g', -1, 64)
		case string:
			dst = appendText(dst, v)
		}
	}
	if table == "beat_chunks" {
		dst = appendBeats(dst, beats)
	}
	return append(dst, '}')
}

func appendText(dst []byte, text string) []byte {
	if !utf8.ValidString(text) {
		return append(base64.StdEncoding.AppendEncode(append(dst, `{"base64": "`...), []byte(text)), `"}`...)
	}
	quoted, _ := json.Marshal(text) // text alone gives no error
	return append(dst, quoted...)
}

func appendBeats(dst []byte, beats []sessions.Beat) []byte {
	list := func(name string, needed bool, one func(dst []byte, x sessions.Beat) []byte) {
		for _, x := range beats {
			needed = needed || string(one(nil, x)) != "0"
		}
		if !needed {
			return
		}
		dst = append(append(append(dst, `, "`...), name...), `": [`...)
		for i, x := range beats {
			if i > 0 {
				dst = append(dst, ',')
			}
			dst = one(dst, x)
		}
		dst = append(dst, ']')
	}
	list("count", true, func(dst []byte, x sessions.Beat) []byte { return strconv.AppendUint(dst, x.Count, 10) })
	list("host_mono_ns", true, func(dst []byte, x sessions.Beat) []byte { return strconv.AppendInt(dst, x.HostMono, 10) })
	list("host_utc_ns", true, func(dst []byte, x sessions.Beat) []byte { return strconv.AppendInt(dst, x.HostUTC, 10) })
	list("edge", false, func(dst []byte, x sessions.Beat) []byte { return strconv.AppendInt(dst, int64(x.Edge), 10) })
	list("break", false, func(dst []byte, x sessions.Beat) []byte { return strconv.AppendInt(dst, int64(b2i(x.Break)), 10) })
	return dst
}
