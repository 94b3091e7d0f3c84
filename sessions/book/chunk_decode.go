package book

import (
	"encoding/binary"
	"hash/crc32"
	"slices"

	"evenbeat/sessions"
)

// decodeChunk replaces dst's elements by the chunk's beats and returns it, grown
// where it must be. A chunk that isn't whole is an error, and then dst has none.
func decodeChunk(dst []sessions.Beat, data []byte) ([]sessions.Beat, error) {
	var r chunkReader
	if err := r.open(data); err != nil {
		return dst[:0], err
	}
	dst = slices.Grow(dst[:0], r.n)[:r.n] // what it holds of other chunks is overwritten
	r.read(dst)
	return dst, nil
}

// chunkReader gives the beats of a chunk in order, some at a time: they take a dozen
// times the chunk's room, and few of them stay near the core that works on them.
type chunkReader struct {
	n    int // beats in the chunk
	next int // number of the next to be given

	countBy, stampBy int
	rate             uint64 // 0 where stamps aren't predicted from the counts
	counts, stamps   cursor
	xs, ys           column // steps read, of counts and of stamps
	done, have       int    // of them, those made into beats, and all

	count        uint64 // of the last beat given
	mono, offset int64  // µs
	edge, other  int16  // of the last beat but one, and of the last; 0 before the first

	// What hardly ever changes: UTC less host time, edges and breaks.
	offsets, edges, breaks runs
}

// open begins a chunk, and finds all that can be wrong with it. Whatever data holds, it
// doesn't panic, and promises no more than maxChunkBeats beats. data must stay as it is
// while they are read.
func (r *chunkReader) open(data []byte) error {
	r.n, r.next, r.done, r.have = 0, 0, 0, 0
	r.count, r.rate, r.edge, r.other = 0, 0, 0, 0
	r.xs, r.ys = column{}, column{}
	if len(data) < 4 {
		return errChunkShort
	}
	body := data[:len(data)-4]
	if crc32.Checksum(body, castagnoli) != binary.LittleEndian.Uint32(data[len(body):]) {
		return errChunkSum
	}
	if len(body) < 3 {
		return errChunkShort
	}
	if body[0] != chunkLayout && body[0] != varintLayout {
		return errChunkLayout
	}
	r.countBy, r.stampBy = int(body[1]), int(body[2])
	if !lagKnown(r.countBy) || !lagKnown(r.stampBy) {
		return errChunkForm
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
		return errChunkForm
	}
	if r.countBy != 0 {
		r.count = c.uvarint()
	}
	r.mono = c.varint()
	r.offset = c.varint()
	if r.stampBy == 0 {
		r.rate = c.uvarint()
	}
	r.counts = c
	if r.countBy != 0 {
		c.skip(int(n) - 1)
	}
	r.stamps = c
	c.skip(int(n) - 1)
	for _, told := range []*runs{&r.offsets, &r.edges, &r.breaks} {
		*told = newRuns(c, int(n))
		end := *told
		for end.at < end.n {
			end.next()
		}
		c = end.c
	}
	if c.bad || len(c.rest) != 0 {
		return errChunkForm
	}
	r.n = int(n)
	return nil
}

func lagKnown(lag int) bool { return lag == 0 || slices.Contains(lags[:], lag) }

// read fills dst with the next beats and returns how many: fewer than there is room
// for only at the chunk's end.
func (r *chunkReader) read(dst []sessions.Beat) int {
	dst = dst[:min(len(dst), r.n-r.next)]
	edge, other := r.edge, r.other
	for rest := dst; len(rest) > 0; {
		if r.next == 0 {
			rest[0] = sessions.Beat{Count: r.count, HostMono: r.mono * 1000, HostUTC: (r.mono + r.offset) * 1000}
			r.next, rest = 1, rest[1:] // with edge 0, as was the one before
			continue
		}
		if r.done == r.have {
			r.load()
		}
		n := min(len(rest), r.have-r.done)
		r.walk(rest[:n])
		rest = rest[n:]
	}
	r.rare(dst, edge, other)
	return len(dst)
}

// load reads the next steps.
func (r *chunkReader) load() {
	r.xs.keep(r.have)
	r.ys.keep(r.have)
	n := min(columnLen, r.n-r.next)
	r.done, r.have = 0, n
	if r.countBy != 0 {
		r.counts.column(r.xs[before : before+n])
	}
	r.stamps.column(r.ys[before : before+n])
	r.xs.undo(n, r.countBy)
	r.ys.undo(n, r.stampBy)
}

// walk goes from beat to beat by the steps read, as if UTC less host time stayed as it
// was, each edge were that of two beats before, and there were no break.
func (r *chunkReader) walk(part []sessions.Beat) {
	x, y := r.xs[before+r.done:][:len(part)], r.ys[before+r.done:][:len(part)]
	count, mono, offset := r.count, r.mono, r.offset
	edge, other := r.edge, r.other
	for k, step := range x {
		count += uint64(step)
		mono += y[k] + predict(step, r.rate)
		b := &part[k]
		b.Count, b.HostMono, b.HostUTC, b.Edge, b.Break = count, mono*1000, (mono+offset)*1000, edge, false
		edge, other = other, edge
	}
	r.count, r.mono, r.edge, r.other = count, mono, edge, other
	r.done += len(part)
	r.next += len(part)
}

// rare sets in the beats up to the next what hardly ever changes; edge and other are
// those of the two before them.
func (r *chunkReader) rare(beats []sessions.Beat, edge, other int16) {
	first := r.next - len(beats)
	from, later := 0, int64(0)
	for ; r.offsets.at < r.next; r.offsets.next() {
		at := r.offsets.at - first
		setUTC(beats[from:at], later)
		from, later = at, later+r.offsets.v
	}
	setUTC(beats[from:], later)
	r.offset += later
	if r.edges.at < r.next {
		for i := range beats {
			if r.edges.at == first+i {
				edge += int16(r.edges.v)
				r.edges.next()
			}
			beats[i].Edge = edge
			edge, other = other, edge
		}
		r.edge, r.other = edge, other
	}
	for ; r.breaks.at < r.next; r.breaks.next() {
		beats[r.breaks.at-first].Break = true
	}
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
