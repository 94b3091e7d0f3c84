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

// runs appends those of n values that aren't zero.
func (c *cursor) runs(dst []told, n int) []told {
	for i := 0; i < n && !c.bad; i++ {
		zeros := c.uvarint()
		if c.bad || zeros > uint64(n-i) {
			c.bad = true
			break
		}
		if i += int(zeros); i == n {
			break
		}
		dst = append(dst, told{i, c.varint()})
	}
	return dst
}
