package book

import "encoding/binary"

// cursor reads numbers off the front of a chunk. What isn't there reads as 0 and
// is remembered in bad, so that the loops need not ask each time.
type cursor struct {
	rest    []byte
	varints bool // what the columns of residuals are made of, instead of packed blocks
	bad     bool
}

func (c *cursor) uvarint() uint64 {
	v, size := binary.Uvarint(c.rest)
	if size <= 0 {
		c.bad, c.rest = true, nil
		return 0
	}
	c.rest = c.rest[size:]
	return v
}

func (c *cursor) varint() int64 { return unzigzag(c.uvarint()) }

// column reads the next residuals of a column: a multiple of blockLen, or all that
// are left of it.
func (c *cursor) column(dst []int64) {
	if !c.varints {
		c.packed(dst)
		return
	}
	for i := range dst {
		dst[i] = c.varint()
	}
}

// skip passes over the n residuals of a column.
func (c *cursor) skip(n int) {
	if !c.varints {
		c.skipPacked(n)
		return
	}
	for ; n > 0 && !c.bad; n-- {
		c.uvarint()
	}
}

// runs goes through a column of runs, from one of its n values that isn't zero to the
// next.
type runs struct {
	c  cursor
	n  int
	at int // the value's place; n when there is none any more
	v  int64
}

func newRuns(c cursor, n int) runs {
	r := runs{c: c, n: n, at: -1}
	r.next()
	return r
}

func (r *runs) next() {
	if r.at++; r.at >= r.n {
		return
	}
	zeros := r.c.uvarint()
	if r.c.bad || zeros > uint64(r.n-r.at) {
		r.c.bad, r.at = true, r.n
		return
	}
	if r.at += int(zeros); r.at < r.n {
		r.v = r.c.varint()
	}
}
