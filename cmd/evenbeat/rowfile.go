package main

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"evenbeat/sessions/book"
)

// Bounds of a file that is read, so that input without end stops.
const (
	mostRows  = 64 << 20  // bytes, where all rows are held in memory: a million of them
	mostBeats = 256 << 20 // bytes, where they aren't: a week of a quick clock
	mostRow   = 1 << 20   // bytes of one row
	mostHead  = 1 << 16   // bytes of the first line
)

// row is one row of a file: its cells, and its number as an editor shows it.
type row struct {
	line  int
	cells []string
	*columns
}

// columns are what the first line of a file names.
type columns struct {
	table string         // in JSON, which holds several
	at    map[string]int // place of each column
	comma bool           // numbers may have a decimal comma
}

// cell returns what stands in a column, "" where there is none. What an instrument sent
// is kept blank for blank.
func (r row) cell(column string) string {
	i, ok := r.at[column]
	if !ok {
		return ""
	}
	if column == "text" {
		return r.cells[i]
	}
	return strings.TrimSpace(r.cells[i])
}

// wrong is an error of the row.
func (r row) wrong(format string, args ...any) error {
	return &rowError{r.table, r.line, fmt.Errorf(format, args...)}
}

// rowError is a row that can't be taken, by its number; 0 for the file as a whole.
type rowError struct {
	table string
	line  int
	err   error
}

func (e *rowError) Error() string {
	switch {
	case e.line == 0:
		return e.err.Error()
	case e.table != "":
		return fmt.Sprintf("%s, row %d: %v", e.table, e.line, e.err)
	}
	return fmt.Sprintf("row %d: %v", e.line, e.err)
}

func (e *rowError) Unwrap() error { return e.err }

// number returns a cell as a number; has is false for an empty cell.
func (r row) number(column string) (x float64, has bool, err error) {
	text := r.cell(column)
	if text == "" {
		return 0, false, nil
	}
	plain := text
	if r.comma {
		plain = strings.Replace(text, ",", ".", 1)
	}
	x, err = strconv.ParseFloat(plain, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, false, r.wrong("%s %q is no number", column, text)
	}
	return x, true, nil
}

func (r row) need(column string) (float64, error) {
	x, has, err := r.number(column)
	if err == nil && !has {
		err = r.wrong("%s is empty", column)
	}
	return x, err
}

// time reads the row's time. Nobody can be asked about one that the clocks skipped or
// showed twice.
func (r row) time(zone *time.Location) (time.Time, error) {
	if r.cell("time") == "" {
		return time.Time{}, r.wrong("time is empty")
	}
	t, odd, err := parseTime(r.cell("time"), zone)
	if err != nil {
		return t, r.wrong("%w", err)
	}
	if odd != "" {
		return t, r.wrong("time %s: write its offset, as in %s", strings.Split(odd, ";")[0], t.Format(time.RFC3339))
	}
	return t, nil
}

// csvRows reads a table row by row.
type csvRows struct {
	in  *csv.Reader
	cap *capped
	row
}

// openCSV reads the first line of a table, which must name the columns of must; "a|b" is
// one of two. What parts the columns is found by it: a comma, a semicolon or a tab.
func openCSV(in io.Reader, most int64, must ...string) (*csvRows, error) {
	capped := &capped{Reader: in, most: most, row: mostRow}
	head := bufio.NewReaderSize(capped, mostHead)
	if err := skipMark(head); err != nil {
		return nil, err
	}
	start, err := head.Peek(mostHead)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	line, ended := start, bytes.IndexAny(start, "\r\n")
	var rest io.Reader = head
	if ended >= 0 {
		line = start[:ended]
		if start[ended] == '\r' && !bytes.HasPrefix(start[ended:], []byte("\r\n")) {
			rest = lineEnds{head}
		}
	}
	switch {
	case len(bytes.TrimSpace(line)) == 0:
		return nil, errors.New("empty: the first line must name the columns")
	case ended < 0 && len(start) == mostHead:
		return nil, fmt.Errorf("the first line must name the columns, and is longer than %d bytes", mostHead)
	case !utf8.Valid(line) || bytes.IndexByte(line, 0) >= 0:
		return nil, errors.New("the first line is no text in UTF-8: save the file anew as CSV in UTF-8")
	}
	c := &csvRows{in: csv.NewReader(rest), cap: capped}
	c.in.ReuseRecord = true
	c.in.Comma = separator(line)
	return c, c.head(must)
}

// skipMark skips the mark by which some programs begin a text.
func skipMark(in *bufio.Reader) error {
	const byteOrderMark = "\ufeff"
	if start, _ := in.Peek(len(byteOrderMark)); string(start) != byteOrderMark {
		return nil // an error comes again when more is read
	}
	_, err := in.Discard(len(byteOrderMark))
	return err
}

func separator(line []byte) rune {
	for _, r := range ",;\t" {
		if bytes.ContainsRune(line, r) {
			return r
		}
	}
	return ','
}

func (c *csvRows) head(must []string) error {
	names, err := c.in.Read()
	if err != nil {
		return c.broken(err)
	}
	c.columns = &columns{at: map[string]int{}, comma: c.in.Comma == ';'}
	for i, name := range names {
		name = strings.TrimSpace(name)
		if _, twice := c.at[name]; twice && name != "" {
			return fmt.Errorf("two columns are named %s", name)
		}
		c.at[name] = i
	}
	return c.columns.need(must)
}

func (c *columns) need(must []string) error {
	for _, names := range must {
		any := strings.Split(names, "|")
		if !slices.ContainsFunc(any, func(name string) bool { _, ok := c.at[name]; return ok }) {
			return fmt.Errorf("no column is named %s: the first line names %s", strings.Join(any, " or "), strings.Join(slices.Sorted(maps.Keys(c.at)), ", "))
		}
	}
	return nil
}

// next returns the next row, which is good until the one after; io.EOF behind the last.
func (c *csvRows) next() (row, error) {
	c.cap.rowBegan()
	var err error
	if c.cells, err = c.in.Read(); err != nil {
		return row{}, c.broken(err)
	}
	c.line, _ = c.in.FieldPos(0)
	return c.row, nil
}

// broken names the row of an error of CSV itself.
func (c *csvRows) broken(err error) error {
	e, ok := errors.AsType[*csv.ParseError](err)
	switch {
	case !ok:
		return err
	case errors.Is(err, csv.ErrFieldCount) && c.columns != nil:
		err = fmt.Errorf("has a different number of cells from the first line, which has %d", c.in.FieldsPerRecord)
	default:
		err = e.Err
	}
	return &rowError{"", e.Line, err}
}

// all returns the rest of the rows.
func (c *csvRows) all() ([]row, error) {
	var rows []row
	for {
		r, err := c.next()
		if errors.Is(err, io.EOF) {
			return rows, nil
		}
		if err != nil {
			return nil, err
		}
		r.cells = slices.Clone(r.cells)
		rows = append(rows, r)
	}
}

// capped is a reader that stops with an error once more than most bytes have come in
// all, or more than those of row since one began; 0 is no bound.
type capped struct {
	io.Reader
	most, row   int64
	done, began int64
}

func (c *capped) rowBegan() { c.began = c.done }

// unbounded doesn't count what is read meanwhile, in which no row may exceed one of an
// export.
func (c *capped) unbounded(read func() error) error {
	most, done := c.most, c.done
	c.most, c.row = math.MaxInt64, book.MostExportRow
	c.rowBegan()
	err := read()
	c.most, c.row = most+c.done-done, 0
	return err
}

func (c *capped) Read(b []byte) (int, error) {
	if c.done > c.most {
		return 0, fmt.Errorf("longer than %d MiB, the most that is read at once: import it in parts", c.most>>20)
	}
	if c.row > 0 && c.done-c.began > c.row+mostHead { // so much may lie read ahead
		return 0, fmt.Errorf("a row is longer than %d MiB: is a quotation mark left open?", c.row>>20)
	}
	n, err := c.Reader.Read(b)
	c.done += int64(n)
	return n, err
}

// lineEnds reads a file whose lines end with CR alone as if they ended with LF.
type lineEnds struct{ io.Reader }

func (l lineEnds) Read(b []byte) (int, error) {
	n, err := l.Reader.Read(b)
	for i, c := range b[:n] {
		if c == '\r' {
			b[i] = '\n'
		}
	}
	return n, err
}
