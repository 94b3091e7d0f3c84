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
	dst = slices.Grow(dst[:0], int(n))[:n]
	clear(dst)
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
	dst[0] = first
	if countBy != 0 {
		c.counts(dst, countBy)
	}
	c.stamps(dst, stampBy, rate)
	c.rare(dst, offset)
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

// columnLen is how many residuals are read at once.
const columnLen = 256

// column reads the next values. One to three bytes are nearly all there is.
func (c *cursor) column(dst []int64) {
	b, at := c.rest, 0
	for i := range dst {
		var u uint64
		if at+3 > len(b) || b[at]&b[at+1]&b[at+2] >= 0x80 {
			c.rest = b[at:]
			dst[i] = c.varint()
			b, at = c.rest, 0
			continue
		}
		if u = uint64(b[at]); u < 0x80 {
			at++
		} else if v := uint64(b[at+1]); v < 0x80 {
			u = u&0x7f | v<<7
			at += 2
		} else {
			u = u&0x7f | v&0x7f<<7 | uint64(b[at+2])<<14
			at += 3
		}
		dst[i] = int64(u>>1) ^ -int64(u&1)
	}
	c.rest = b[at:]
}

// counts fills the counts from their residuals. Sums wrap as the counter does.
func (c *cursor) counts(beats []sessions.Beat, lag int) {
	var steps [4]int64 // the last four steps, by index modulo 4
	var column [columnLen]int64
	count := beats[0].Count
	for i := 1; i < len(beats); {
		part := column[:min(columnLen, len(beats)-i)]
		c.column(part)
		for _, step := range part {
			step += steps[(i-lag)&3]
			steps[i&3] = step
			count += uint64(step)
			beats[i].Count = count
			i++
		}
	}
}

// stamps fills HostMono, in µs.
func (c *cursor) stamps(beats []sessions.Beat, lag int, rate uint64) {
	var steps [4]int64
	var column [columnLen]int64
	mono, count := beats[0].HostMono, beats[0].Count
	for i := 1; i < len(beats); {
		part := column[:min(columnLen, len(beats)-i)]
		c.column(part)
		for _, step := range part {
			b := &beats[i]
			if lag == 0 {
				step += predict(int64(b.Count-count), rate)
				count = b.Count
			} else {
				step += steps[(i-lag)&3]
				steps[i&3] = step
			}
			mono += step
			b.HostMono = mono
			i++
		}
	}
}

// rare turns stamps into nanoseconds and fills UTC, edges and breaks.
func (c *cursor) rare(beats []sessions.Beat, offset int64) {
	done := 0
	c.runs(len(beats), func(i int, v int64) {
		setUTC(beats[done:i], offset)
		offset += v
		done = i
	})
	setUTC(beats[done:], offset)
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

func setUTC(beats []sessions.Beat, offset int64) {
	for i := range beats {
		beats[i].HostUTC = (beats[i].HostMono + offset) * 1000
		beats[i].HostMono *= 1000
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
