package book

import (
	"encoding/binary"
	"hash/crc32"
	"slices"

	"evenbeat/sessions"
)

// decodeChunk replaces dst's elements by the chunk's beats and returns it, grown
// where it must be. Whatever data holds, it asks for no more memory than
// maxChunkBeats beats and never panics; a chunk that isn't whole is an error, and
// then dst's elements mean nothing.
func decodeChunk(dst []sessions.Beat, data []byte) ([]sessions.Beat, error) {
	if len(data) < 4 {
		return dst[:0], errChunkShort
	}
	body := data[:len(data)-4]
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(data[len(body):]) {
		return dst[:0], errChunkSum
	}
	if len(body) < 3 {
		return dst[:0], errChunkShort
	}
	if body[0] != chunkLayout && body[0] != varintLayout {
		return dst[:0], errChunkLayout
	}
	countBy, stampBy := int(body[1]), int(body[2])
	if !lagKnown(countBy) || !lagKnown(stampBy) {
		return dst[:0], errChunkForm
	}
	c := cursor{rest: body[3:], varints: body[0] == varintLayout}
	n := c.uvarint()
	// Each beat but the first has a stamp residual, of a byte at least or in a block of
	// so many with a byte.
	perByte := uint64(blockLen)
	if c.varints {
		perByte = 1
	}
	if n == 0 || n > maxChunkBeats || n-1 > perByte*uint64(len(c.rest)) {
		return dst[:0], errChunkForm
	}
	dst = slices.Grow(dst[:0], int(n))[:n] // what it holds of other chunks is overwritten
	var first sessions.Beat
	if countBy != 0 {
		first.Count = c.uvarint()
	}
	first.HostMono = c.varint()
	offset := c.varint()
	rate := uint64(0)
	if stampBy == 0 {
		rate = c.uvarint()
	}
	counts := c
	if countBy != 0 {
		c.skip(int(n) - 1)
	}
	w := walker{countBy: countBy, stampBy: stampBy, rate: rate, count: first.Count, mono: first.HostMono, offset: offset}
	w.fill(dst, &counts, &c)
	c.rare(dst)
	c.bad = c.bad || counts.bad
	if c.bad || len(c.rest) != 0 {
		return dst[:0], errChunkForm
	}
	return dst, nil
}

func lagKnown(lag int) bool { return lag == 0 || slices.Contains(lags[:], lag) }

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

// walker goes from beat to beat by the steps that the columns tell.
type walker struct {
	countBy, stampBy int
	rate             uint64
	count            uint64
	mono, offset     int64 // µs
}

const (
	// columnLen is how many residuals are read at once.
	columnLen = 8 * blockLen
	// before is how many steps are kept of those before: the longest lag.
	before = 4
)

// column holds steps from beat to beat, with the last of those before in front.
type column [before + columnLen]int64

// undo turns n residuals by lag into the steps that they were made from.
func (c *column) undo(n, lag int) {
	// In variables: by way of memory each step would wait for the one lag before.
	steps := c[before : before+n]
	o, p, q, r := c[0], c[1], c[2], c[3]
	switch lag {
	case 1:
		for k, v := range steps {
			r += v
			steps[k] = r
		}
	case 2:
		for k, v := range steps {
			q, r = r, q+v
			steps[k] = r
		}
	case 4:
		for k, v := range steps {
			o, p, q, r = p, q, r, o+v
			steps[k] = r
		}
	}
}

// keep moves the last of n steps to the front.
func (c *column) keep(n int) { copy(c[:before], c[n:n+before]) }

// fill fills the beats, as if UTC less host time never changed and no edge or break
// had been told.
func (w walker) fill(beats []sessions.Beat, counts, stamps *cursor) {
	var xs, ys column
	count, mono := w.count, w.mono
	beats[0] = sessions.Beat{Count: count, HostMono: mono * 1000, HostUTC: (mono + w.offset) * 1000}
	for beats = beats[1:]; len(beats) > 0; {
		part := beats[:min(columnLen, len(beats))]
		beats = beats[len(part):]
		n := len(part)
		x, y := xs[before:before+n], ys[before:before+n]
		if w.countBy != 0 {
			counts.column(x)
		}
		stamps.column(y)
		xs.undo(n, w.countBy)
		ys.undo(n, w.stampBy)
		rate := uint64(0)
		if w.stampBy == 0 {
			rate = w.rate
		}
		for k := range part {
			count += uint64(x[k])
			mono += y[k] + predict(x[k], rate)
			part[k] = sessions.Beat{Count: count, HostMono: mono * 1000, HostUTC: (mono + w.offset) * 1000}
		}
		xs.keep(n)
		ys.keep(n)
	}
}

// rare sets what hardly ever changes: UTC less host time, edges and breaks.
func (c *cursor) rare(beats []sessions.Beat) {
	done, later := 0, int64(0)
	c.runs(len(beats), func(i int, v int64) {
		setUTC(beats[done:i], later)
		later += v
		done = i
	})
	setUTC(beats[done:], later)
	edges := false
	c.runs(len(beats), func(i int, v int64) {
		beats[i].Edge, edges = int16(v), true
	})
	if edges {
		for i := 2; i < len(beats); i++ {
			beats[i].Edge += beats[i-2].Edge
		}
	}
	c.runs(len(beats), func(i int, _ int64) { beats[i].Break = true })
}

// setUTC moves the UTC of beats by so many µs.
func setUTC(beats []sessions.Beat, later int64) {
	if later == 0 {
		return
	}
	for i := range beats {
		beats[i].HostUTC += later * 1000
	}
}

// runs calls set for each of n values that isn't zero.
func (c *cursor) runs(n int, set func(i int, v int64)) {
	for i := 0; i < n; i++ {
		zeros := c.uvarint()
		if c.bad || zeros > uint64(n-i) {
			c.bad = true
			return
		}
		if i += int(zeros); i == n {
			return
		}
		v := c.varint()
		if c.bad {
			return
		}
		set(i, v)
	}
}
