package book

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"github.com/ncruces/go-sqlite3"

	"evenbeat/sessions"
)

// MostExportRow is the length that no row of an export exceeds, in bytes: a chunk of beats
// with each number at its longest.
const MostExportRow = 8 << 20

// ReadExport makes a book, under a temporary name beside the book at beside, of what Export
// wrote. d stands before the object; began is called before each row is read, so that the
// caller can bound it. It returns the name of the book, which the caller removes, and how
// many rows and beats it holds.
//
// An error that is no *[Error] is of the text. A layout newer than the program's is an
// error of KindNewer. On any error no file is left.
func ReadExport(ctx context.Context, d *json.Decoder, began func(), beside string) (path string, n int64, err error) {
	if err := os.MkdirAll(filepath.Dir(beside), 0o700); err != nil {
		return "", 0, fail(beside, "making its folder", err)
	}
	path, err = tempName(beside)
	if err != nil {
		return "", 0, fail(beside, "importing", err)
	}
	in := bringing{d: d, began: began, path: path, sum: sha256.New()}
	if err = in.object(ctx); err != nil {
		return "", 0, errors.Join(err, RemoveBook(path))
	}
	return path, in.rows - in.chunks + in.beats, nil
}

// RemoveBook removes a book that ReadExport made.
func RemoveBook(path string) error {
	return errors.Join(remove(path), remove(path+"-wal"), remove(path+"-shm"), remove(path+tallySuffix))
}

// bringing is one run of ReadExport.
type bringing struct {
	d      *json.Decoder
	began  func()
	path   string
	layout int
	tx     *sql.Tx
	tables map[string]*exportTable
	sum    hash.Hash
	line   []byte
	held   []sessions.Beat // of the row at hand

	rows, chunks, beats int64
}

// exportTable is a table of the book that is made, and the statement that fills it.
type exportTable struct {
	columns, kinds []string
	put            *sql.Stmt
}

// object reads the whole of it.
func (in *bringing) object(ctx context.Context) error {
	if err := in.expect('{'); err != nil {
		return err
	}
	var told struct {
		count int64
		sum   string
	}
	filled := false
	for in.d.More() {
		key, err := in.d.Token()
		if err != nil {
			return err
		}
		switch key {
		case "layout":
			err = in.d.Decode(&in.layout)
		case "count":
			err = in.d.Decode(&told.count)
		case "sha256":
			err = in.d.Decode(&told.sum)
		case "rows":
			if filled {
				return errors.New(`"rows" stands twice`)
			}
			filled = true
			err = in.fill(ctx)
		default:
			err = fmt.Errorf("%q is not known", key)
		}
		if err != nil {
			return err
		}
	}
	if _, err := in.d.Token(); err != nil {
		return err
	}
	if !filled || told.count != in.rows || told.sum != fmt.Sprintf("%x", in.sum.Sum(nil)) {
		return errors.New("its checksum doesn't fit what it holds: it is damaged, or was changed since it was exported")
	}
	return nil
}

func (in *bringing) expect(delim json.Delim) error {
	t, err := in.d.Token()
	if err == nil && t != delim {
		err = fmt.Errorf("%v stands where %v should", t, delim)
	}
	return err
}

// fill makes the book and puts all rows into it.
func (in *bringing) fill(ctx context.Context) error {
	if in.layout > len(migrations()) {
		return &Error{Path: in.path, Kind: KindNewer, What: fmt.Sprintf("it is of layout %d, and this program knows layouts up to %d", in.layout, len(migrations())),
			Remedy: "use the newer program"}
	}
	if in.layout < 1 {
		return errors.New("the layout must stand before the rows")
	}
	if err := fill(ctx, in.path, in.layout); err != nil {
		return fail(in.path, "importing", err)
	}
	b, err := openAs(ctx, in.path, Options{asIs: true})
	if err != nil {
		return err
	}
	var inRows error // as it is: write would call it the book's
	err = b.write(ctx, "importing", func(tx *sql.Tx) error {
		in.tx, in.tables = tx, map[string]*exportTable{}
		inRows = in.list(ctx)
		return inRows
	})
	if inRows != nil {
		err = inRows
	}
	if err == nil {
		var r Report
		if r, err = b.Check(ctx); err == nil && !r.OK() {
			err = fmt.Errorf("its rows make no sound book: %s", r.Problems[0])
		}
	}
	return errors.Join(err, b.Close())
}

func (in *bringing) list(ctx context.Context) error {
	if err := in.expect('['); err != nil {
		return err
	}
	for in.d.More() {
		in.began()
		in.rows++
		raw := map[string]json.RawMessage{}
		if err := in.d.Decode(&raw); err != nil {
			return err
		}
		if err := in.row(ctx, raw); err != nil {
			if _, ofBook := errors.AsType[*Error](err); ofBook {
				return err
			}
			return fmt.Errorf("row %d: %w", in.rows, err)
		}
	}
	_, err := in.d.Token()
	return err
}

// row puts one row into the book.
func (in *bringing) row(ctx context.Context, raw map[string]json.RawMessage) error {
	var name string
	if err := json.Unmarshal(raw["table"], &name); err != nil {
		return errors.New("it names no table")
	}
	delete(raw, "table")
	t, err := in.table(ctx, name)
	if err != nil {
		return err
	}
	r, err := t.row(name, raw, &in.held)
	if err != nil {
		return err
	}
	if name == "beat_chunks" {
		in.chunks++
		in.beats += int64(len(in.held))
	}
	in.line = append(exportRow(in.line[:0], name, r, in.held), '\n')
	in.sum.Write(in.line)
	_, err = t.put.ExecContext(ctx, r.values...)
	if errors.Is(err, sqlite3.CONSTRAINT) || errors.Is(err, sqlite3.MISMATCH) {
		return fmt.Errorf("%s: %w", name, err)
	}
	return fail(in.path, "importing", err)
}

// row reads a row from its JSON, which is used up. One of beat_chunks puts its beats into held.
func (t *exportTable) row(name string, raw map[string]json.RawMessage, held *[]sessions.Beat) (r rawRow, err error) {
	r = rawRow{t.columns, make([]any, len(t.columns))}
	if name == "beat_chunks" {
		if *held, err = takeBeats((*held)[:0], raw); err != nil {
			return r, fmt.Errorf("%s: %w", name, err)
		}
		*r.at("beats") = int64(len(*held))
		if *r.at("data"), err = encodeChunk(nil, *held); err != nil {
			return r, err
		}
	}
	for i, column := range t.columns {
		text, there := raw[column]
		if !there || r.values[i] != nil {
			continue
		}
		delete(raw, column)
		if r.values[i], err = exported(t.kinds[i], text); err != nil {
			return r, fmt.Errorf("%s, %s: %w", name, column, err)
		}
	}
	for column := range raw {
		return r, fmt.Errorf("%s has no %s", name, column)
	}
	return r, nil
}

// table returns a table of the book by its name.
func (in *bringing) table(ctx context.Context, name string) (*exportTable, error) {
	if t, ok := in.tables[name]; ok {
		return t, nil
	}
	if !slices.ContainsFunc(exportTables(0), func(t [2]string) bool { return t[0] == name }) {
		return nil, fmt.Errorf("table %q is not known", name)
	}
	t := &exportTable{}
	_, err := collect(ctx, in.tx, func(rows *sql.Rows) (struct{}, error) {
		var column, kind string
		err := rows.Scan(&column, &kind)
		t.columns, t.kinds = append(t.columns, column), append(t.kinds, kind)
		return struct{}{}, err
	}, "SELECT name, type FROM pragma_table_info(?) ORDER BY cid", name)
	if err == nil && len(t.columns) == 0 {
		return nil, fmt.Errorf("table %q is not known in layout %d", name, in.layout)
	}
	if err == nil {
		shape := salvageTable{name: name, columns: make([]salvageColumn, len(t.columns))}
		t.put, err = in.tx.PrepareContext(ctx, shape.insertion())
	}
	in.tables[name] = t
	return t, fail(in.path, "importing", err)
}

// exported reads a value of a column of this kind.
func exported(kind string, text json.RawMessage) (v any, err error) {
	switch kind {
	case "INTEGER":
		v, err = strconv.ParseInt(string(text), 10, 64)
	case "REAL":
		v, err = strconv.ParseFloat(string(text), 64)
	}
	if err != nil {
		return nil, fmt.Errorf("%.40s is no number", text)
	}
	if v != nil {
		return v, nil
	}
	if text[0] == '{' {
		var coded struct {
			Base64 []byte `json:"base64"`
		}
		err := json.Unmarshal(text, &coded)
		return string(coded.Base64), err
	}
	var s string
	err = json.Unmarshal(text, &s)
	return s, err
}

// takeBeats takes the lists of beats out of a row, and appends the beats to dst.
func takeBeats(dst []sessions.Beat, raw map[string]json.RawMessage) ([]sessions.Beat, error) {
	var counts []uint64
	var mono, utc []int64
	var edges []int16
	var breaks []int8
	for name, to := range map[string]any{"count": &counts, "host_mono_ns": &mono, "host_utc_ns": &utc, "edge": &edges, "break": &breaks} {
		if text, ok := raw[name]; ok {
			if err := json.Unmarshal(text, to); err != nil {
				return dst, fmt.Errorf("%s is no list of whole numbers in range", name)
			}
		}
		delete(raw, name)
	}
	n := len(counts)
	if edges == nil {
		edges = make([]int16, n)
	}
	if breaks == nil {
		breaks = make([]int8, n)
	}
	if len(mono) != n || len(utc) != n || len(edges) != n || len(breaks) != n {
		return dst, errors.New("its lists are not of one length")
	}
	for i, count := range counts {
		dst = append(dst, sessions.Beat{Count: count, HostMono: mono[i], HostUTC: utc[i], Edge: edges[i], Break: breaks[i] != 0})
	}
	return dst, nil
}
