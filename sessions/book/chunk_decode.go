package book

import (
	"encoding/binary"
	"hash/crc32"
	"math/bits"
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
	if body[0] != chunkLayout {
		return dst[:0], errChunkLayout
	}
	countBy, stampBy := int(body[1]), int(body[2])
	if !lagKnown(countBy) || !lagKnown(stampBy) {
		return dst[:0], errChunkForm
	}
	c := cursor{rest: body[3:]}
	n := c.uvarint()
	// Each beat but the first has a stamp residual of at least a byte.
	if n == 0 || n > maxChunkBeats || n-1 > uint64(len(c.rest)) {
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
	stamps := c
	c.skip(int(n) - 1)
	w := walker{countBy: countBy, stampBy: stampBy, rate: rate, count: first.Count, mono: first.HostMono, offset: offset}
	w.fill(dst, &counts, &stamps)
	c.rare(dst)
	c.bad = c.bad || counts.bad || stamps.bad
	if c.bad || len(c.rest) != 0 {
		return dst[:0], errChunkForm
	}
	return dst, nil
}

func lagKnown(lag int) bool { return lag == 0 || slices.Contains(lags[:], lag) }

// cursor reads numbers off the front of a chunk. What isn't there reads as 0 and
// is remembered in bad, so that the loops need not ask each time.
type cursor struct {
	rest []byte
	bad  bool
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

func (c *cursor) varint() int64 {
	u := c.uvarint()
	return int64(u>>1) ^ -int64(u&1)
}

// skip passes over the next n numbers, of which it looks at the ends alone.
func (c *cursor) skip(n int) {
	b, at := c.rest, 0
	for n >= 8 && at+8 <= len(b) {
		n -= bits.OnesCount64(^binary.LittleEndian.Uint64(b[at:]) & 0x8080808080808080)
		at += 8
	}
	for ; n > 0; at++ {
		if at >= len(b) {
			c.bad, c.rest = true, nil
			return
		}
		if b[at] < 0x80 {
			n--
		}
	}
	// Eight bytes may have held the last number's end and a part of the next, which
	// must be met from its beginning.
	for at > 0 && b[at-1] >= 0x80 {
		at--
	}
	c.rest = b[at:]
}

// column reads the next values.
func (c *cursor) column(dst []int64) {
	for i := range dst {
		dst[i] = c.varint()
	}
}

// both reads the next values of two columns side by side. How many bytes each has,
// up to four, isn't asked: that changes from beat to beat, and a branch that can't be
// foreseen costs more than all of it; and while the one waits to know where its next
// begins, the other goes on.
func both(c, d *cursor, x, y []int64) {
	p, q, i, j := c.rest, d.rest, 0, 0
	for k := range x[:len(y)] {
		if i+4 <= len(p) && j+4 <= len(q) {
			v, w := binary.LittleEndian.Uint32(p[i:]), binary.LittleEndian.Uint32(q[j:])
			vEnds, wEnds := ^v&0x80808080, ^w&0x80808080
			if vEnds != 0 && wEnds != 0 {
				x[k], y[k] = joined(v&(vEnds^(vEnds-1))), joined(w&(wEnds^(wEnds-1)))
				i, j = i+bits.TrailingZeros32(vEnds)/8+1, j+bits.TrailingZeros32(wEnds)/8+1
				continue
			}
		}
		c.rest, d.rest = p[i:], q[j:]
		x[k], y[k] = c.varint(), d.varint()
		p, q, i, j = c.rest, d.rest, 0, 0
	}
	c.rest, d.rest = p[i:], q[j:]
}

// joined returns the number whose groups of seven bits are those of up to four bytes.
func joined(w uint32) int64 {
	u := w&0x7f | w>>1&0x3f80 | w>>2&0x1fc000 | w>>3&0xfe00000
	return int64(u>>1) ^ -int64(u&1)
}

// walker goes from beat to beat by the steps that the columns tell.
type walker struct {
	countBy, stampBy int
	rate             uint64
	count            uint64
	mono, offset     int64 // µs

	counts, stamps [4]int64 // the last four steps of each, by the beat's number modulo 4
}

// columnLen is how many residuals are read at once.
const columnLen = 256

// fill fills the beats, as if UTC less host time never changed and no edge or break
// had been told.
func (w *walker) fill(beats []sessions.Beat, counts, stamps *cursor) {
	var x, y [columnLen]int64
	beats[0] = w.beat()
	for i := 1; i < len(beats); i += columnLen {
		part := beats[i:min(i+columnLen, len(beats))]
		if w.countBy != 0 {
			both(counts, stamps, x[:len(part)], y[:len(part)])
		} else {
			stamps.column(y[:len(part)])
		}
		for k := range part {
			n := i + k
			step := x[k]
			if w.countBy != 0 {
				step += w.counts[(n-w.countBy)&3]
				w.counts[n&3] = step
				w.count += uint64(step)
			}
			later := y[k]
			if w.stampBy == 0 {
				later += predict(step, w.rate)
			} else {
				later += w.stamps[(n-w.stampBy)&3]
				w.stamps[n&3] = later
			}
			w.mono += later
			part[k] = w.beat()
		}
	}
}

func (w *walker) beat() sessions.Beat {
	return sessions.Beat{Count: w.count, HostMono: w.mono * 1000, HostUTC: (w.mono + w.offset) * 1000}
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
