package book

import (
	"encoding/binary"
	"math/bits"
)

// blockLen values of a packed column share a width.
const blockLen = 32

func zigzag(v int64) uint64 { return uint64(v<<1) ^ uint64(v>>63) }

func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// widthOf returns how many bits the widest of the values takes.
func widthOf(values []int64) int {
	all := uint64(0)
	for _, v := range values {
		all |= zigzag(v)
	}
	return bits.Len64(all)
}

// blockSize returns the bytes of n values of so many bits, with the byte that tells
// the width.
func blockSize(n, width int) int { return 1 + (n*width+7)/8 }

// packedSize returns the bytes that appendPacked would append.
func packedSize(values []int64) int {
	size := 0
	for len(values) > 0 {
		block := values[:min(blockLen, len(values))]
		size += blockSize(len(block), widthOf(block))
		values = values[len(block):]
	}
	return size
}

// appendPacked appends a packed column.
func appendPacked(dst []byte, values []int64) []byte {
	for len(values) > 0 {
		block := values[:min(blockLen, len(values))]
		values = values[len(block):]
		width := widthOf(block)
		dst = append(dst, byte(width))
		word, have := uint64(0), 0
		for _, v := range block {
			u := zigzag(v)
			word |= u << have
			if have += width; have >= 64 {
				dst = binary.LittleEndian.AppendUint64(dst, word)
				have -= 64
				word = u >> (width - have)
			}
		}
		for ; have > 0; have -= 8 {
			dst = append(dst, byte(word))
			word >>= 8
		}
	}
	return dst
}

// packed reads the next values of a packed column: a multiple of blockLen, or all
// that are left of it.
func (c *cursor) packed(dst []int64) {
	for len(dst) > 0 {
		block := dst[:min(blockLen, len(dst))]
		body, width := c.block(len(block))
		unpack(block, body, width)
		dst = dst[len(block):]
	}
}

// skipPacked passes over the next n values.
func (c *cursor) skipPacked(n int) {
	for ; n > 0; n -= blockLen {
		c.block(min(blockLen, n))
	}
}

// block returns the body of the next block, of n values, and all that comes after,
// and the values' width.
func (c *cursor) block(n int) (body []byte, width int) {
	if len(c.rest) == 0 || c.rest[0] > 64 || blockSize(n, int(c.rest[0])) > len(c.rest) {
		c.bad, c.rest = true, nil
		return nil, 0
	}
	body, width = c.rest[1:], int(c.rest[0])
	c.rest = c.rest[blockSize(n, width):]
	return body, width
}

// unpack fills a block from its body. No value waits for the one before, and no
// branch hangs on the values: with those, this would be half of what it costs to
// read a book of beats.
func unpack(dst []int64, body []byte, width int) {
	if need := len(dst)*width/8 + 9; len(body) < need { // the last ones of a chunk
		var padded [blockLen*8 + 9]byte
		copy(padded[:], body)
		body = padded[:]
	}
	mask := ^uint64(0) >> (64 - width)
	if width > 57 { // with what is left of the first byte, more than a word
		for k := range dst {
			at, from := k*width>>3, k*width&7
			u := binary.LittleEndian.Uint64(body[at:])>>from | uint64(body[at+8])<<(64-from)
			dst[k] = unzigzag(u & mask)
		}
		return
	}
	k := 0
	if width <= 14 { // four of them lie in a word, wherever in its first byte they begin
		for ; k+4 <= len(dst); k += 4 {
			bit := k * width
			four, u := (*[4]int64)(dst[k:]), binary.LittleEndian.Uint64(body[bit>>3:])>>(bit&7)
			four[0] = unzigzag(u & mask)
			u >>= uint(width) & 63
			four[1] = unzigzag(u & mask)
			u >>= uint(width) & 63
			four[2] = unzigzag(u & mask)
			u >>= uint(width) & 63
			four[3] = unzigzag(u & mask)
		}
	}
	for ; k < len(dst); k++ {
		bit := k * width
		dst[k] = unzigzag(binary.LittleEndian.Uint64(body[bit>>3:]) >> (bit & 7) & mask)
	}
}
