package pages

import (
	"encoding/binary"
	"math"
	"unicode/utf8"
)

// Types returns the types of a cell's columns as SQLite's serial types, without what
// lies on other pages, and whether they are sound.
func (c Cell) Types() ([]uint64, bool) { return types(c.local) }

func types(record []byte) ([]uint64, bool) {
	head, at := uvarint(record)
	if at == 0 || head > uint64(len(record)) || head < uint64(at) {
		return nil, false
	}
	var all []uint64
	for rest := record[at:head]; len(rest) > 0; {
		t, n := uvarint(rest)
		if n == 0 || t == 10 || t == 11 { // those two are never in a file
			return nil, false
		}
		all, rest = append(all, t), rest[n:]
	}
	return all, true
}

// Values reads a record: nil, int64, float64, string or []byte for each column. It
// reports whether the record is whole, to its last byte.
func Values(record []byte) ([]any, bool) {
	all, ok := types(record)
	if !ok {
		return nil, false
	}
	head, _ := uvarint(record)
	rest := record[head:]
	values := make([]any, len(all))
	for i, t := range all {
		size := size(t)
		if size > uint64(len(rest)) {
			return nil, false
		}
		if values[i], ok = value(t, rest[:size]); !ok {
			return nil, false
		}
		rest = rest[size:]
	}
	return values, len(rest) == 0
}

// size is how many bytes a value of the serial type takes (section 2.1).
func size(t uint64) uint64 {
	switch {
	case t <= 4:
		return t
	case t == 5:
		return 6
	case t <= 7:
		return 8
	case t <= 11:
		return 0
	}
	return (t - 12) / 2
}

func value(t uint64, b []byte) (any, bool) {
	switch {
	case t == 0:
		return nil, true
	case t <= 6:
		v := int64(int8(b[0]))
		for _, x := range b[1:] {
			v = v<<8 | int64(x)
		}
		return v, true
	case t == 7:
		v := math.Float64frombits(binary.BigEndian.Uint64(b))
		return v, !math.IsNaN(v)
	case t <= 9:
		return int64(t - 8), true
	case t%2 == 0:
		return b, true
	}
	return string(b), utf8.Valid(b)
}
