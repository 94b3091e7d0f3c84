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
	// One and two bytes are nearly all there is.
	var u uint64
	switch r := c.rest; {
	case len(r) > 0 && r[0] < 0x80:
		u, c.rest = uint64(r[0]), r[1:]
	case len(r) > 1 && r[1] < 0x80:
		u, c.rest = uint64(r[0]&0x7f)|uint64(r[1])<<7, r[2:]
	default:
		u = c.uvarint()
	}
	return int64(u>>1) ^ -int64(u&1)
}

// counts fills the counts from their residuals. Sums wrap as the counter does.
func (c *cursor) counts(beats []sessions.Beat, lag int) {
	var steps [4]int64 // the last four steps, by index modulo 4
	count := beats[0].Count
	for i := 1; i < len(beats); i++ {
		step := c.varint() + steps[(i-lag)&3]
		steps[i&3] = step
		count += uint64(step)
		beats[i].Count = count
	}
}

// stamps fills HostMono, in µs.
func (c *cursor) stamps(beats []sessions.Beat, lag int, rate uint64) {
	var steps [4]int64
	mono := beats[0].HostMono
	for i := 1; i < len(beats); i++ {
		step := c.varint()
		if lag == 0 {
			step += predict(int64(beats[i].Count-beats[i-1].Count), rate)
		} else {
			step += steps[(i-lag)&3]
			steps[i&3] = step
		}
		mono += step
		beats[i].HostMono = mono
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
