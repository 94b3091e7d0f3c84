package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
)

// rowColumns are the columns of each table that can be imported.
var rowColumns = map[string]struct{ must, may []string }{
	"readings": {[]string{"time", "part", "dimension", "value_m"}, []string{"clock", "kind", "u_m", "text", "instrument", "state", "limit_m", "step_m", "u_form"}},
	"beats":    {[]string{"time_s"}, []string{"clock"}},
	"checks":   {[]string{"time", "error_s", "u_s"}, []string{"clock"}},
	"air":      {[]string{"time", "temperature_c|pressure_hpa|humidity_pct"}, []string{"clock", "temperature_c", "pressure_hpa", "humidity_pct"}},
	"events":   {[]string{"time", "kind"}, []string{"clock", "turns", "text", "before_s", "after_s"}},

	"particulars": {[]string{"time", "name", "value"}, []string{"clock", "part"}},
}

// recordKey is the name of a clock's whole record in JSON.
const recordKey = "record"

// rowFile is what a file holds: rows by their table, the clock that it names, and the book
// that was made of its whole record, "" if that wasn't asked for or isn't there.
type rowFile struct {
	clock string
	rows  map[string][]row
	record
}

// record is a book that holds so many rows and beats.
type record struct {
	path string
	n    int64
}

// readJSON reads an object with those of its tables that are wanted. It is read piece by
// piece, so that a key that stands twice is seen. whole reads the whole record of that
// clock; if it makes a book of it, no table is wanted. Where it is nil, the record isn't.
// What isn't wanted may be of any length.
func readJSON(in io.Reader, wanted []string, whole func(d *json.Decoder, began func(), clock string) (record, error)) (rowFile, error) {
	capped := &capped{Reader: in, most: mostRows}
	text := bufio.NewReader(capped)
	if err := skipMark(text); err != nil {
		return rowFile{}, err
	}
	file, d := rowFile{rows: map[string][]row{}}, json.NewDecoder(text)
	d.UseNumber()
	err := object(d, "an object that names its tables", func(key string) (err error) {
		switch {
		case key == "clock":
			return d.Decode(&file.clock)
		case key == recordKey && whole != nil:
			return capped.unbounded(func() (err error) {
				file.record, err = whole(d, capped.rowBegan, file.clock)
				return err
			})
		case slices.Contains(wanted, key) && file.record.path == "":
			file.rows[key], err = readObjects(d, key)
			return err
		}
		return capped.unbounded(func() error { return skip(d, capped.rowBegan) })
	})
	if err == nil {
		if _, more := d.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("more follows after the end of the object")
		}
	}
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = errors.New("the JSON ends too early")
	}
	return file, err
}

// skip goes past a value, bit by bit.
func skip(d *json.Decoder, began func()) error {
	for depth := 0; ; {
		began()
		t, err := d.Token()
		if err != nil {
			return err
		}
		if delim, ok := t.(json.Delim); ok && (delim == '{' || delim == '[') {
			depth++
		} else if ok {
			depth--
		}
		if depth == 0 {
			return nil
		}
	}
}

// object walks through an object; what says what it is. value reads the value of each key.
func object(d *json.Decoder, what string, value func(key string) error) error {
	if err := begins(d, '{', what); err != nil {
		return err
	}
	seen := map[string]bool{}
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return err
		}
		key := t.(string) // as the decoder promises
		if seen[key] {
			return fmt.Errorf("%q stands twice", key)
		}
		seen[key] = true
		if err := value(key); err != nil {
			return err
		}
	}
	_, err := d.Token()
	return err
}

func begins(d *json.Decoder, with json.Delim, what string) error {
	t, err := d.Token()
	if err == nil && t == nil {
		t = "null"
	}
	if err == nil && t != with {
		err = fmt.Errorf("%v stands where %s should begin", t, what)
	}
	return err
}

// readObjects reads the rows of a table. What is left out of one is an empty cell.
func readObjects(d *json.Decoder, table string) ([]row, error) {
	known := rowColumns[table]
	names := append(slices.Clone(known.must), known.may...)
	c := &columns{table: table, at: map[string]int{}}
	for i, name := range names {
		c.at[name] = i
	}
	if err := begins(d, '[', "a list of "+table); err != nil {
		return nil, err
	}
	var rows []row
	for d.More() {
		r := row{len(rows) + 1, make([]string, len(names)), c}
		err := object(d, "a row", func(key string) error {
			var v any
			if err := d.Decode(&v); err != nil {
				return err
			}
			i, wanted := c.at[key]
			if !wanted || v == nil {
				return nil
			}
			switch v := v.(type) {
			case string:
				r.cells[i] = v
			case json.Number:
				r.cells[i] = v.String()
			default:
				return fmt.Errorf("%s is neither text nor a number", key)
			}
			return nil
		})
		if err != nil {
			return nil, r.wrong("%w", err)
		}
		rows = append(rows, r)
	}
	_, err := d.Token()
	return rows, err
}
