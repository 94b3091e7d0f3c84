package textfile

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// number turns the digits before the first other byte of eight, lowest first,
// into their value. n is how many there are.
func number(word uint64) (v uint64, n int) {
	word ^= zeros
	n = bits.TrailingZeros64(odd(word)) >> 3
	if n == 0 {
		return 0, 0
	}
	return value(word << (uint(64-8*n) & 63)), n
}

// zeros is eight digits of nought: with it a digit's byte is turned into its value,
// and every other byte into one above 9.
const zeros = 0x3030303030303030

// odd marks, in their upper bits, the bytes above 9 of eight; above the first it may
// mark others too.
func odd(word uint64) uint64 { return (word | (word + 0x7676767676767676)) & 0x8080808080808080 }

// value returns what eight digits are worth, of values 0 to 9, the first lowest. Pairs,
// fours and eights of them are joined by three multiplications.
func value(word uint64) uint64 {
	word = word*10 + word>>8
	return ((word&0x000000ff000000ff)*(100+1000000<<32) + (word>>16&0x000000ff000000ff)*(1+10000<<32)) >> 32
}

// same reads lines of as many digits as the last one read had: most lines have, and
// then none must be read before it's known where the next one starts. Lines of 8 to
// 16 digits are read so. It returns how many, and their bytes.
//
// The first eight digits and the last eight are taken; of the first those are left
// out that belong to both. Counts rise, so that the first ones are mostly those of the
// line before.
func same(text []byte, digits int, counts []uint64) (n, used int) {
	if digits < 8 || digits > 16 {
		return 0, 0
	}
	out := uint(8*(16-digits)) & 127
	last := digits - 8
	var front, high uint64 // what was left of the first eight, and its worth
	for len(text) >= 24 && n < len(counts) {
		tail := binary.LittleEndian.Uint64(text[last:last+8]) ^ zeros
		if odd(tail) != 0 || text[digits] != '\n' {
			break
		}
		if head := (binary.LittleEndian.Uint64(text) ^ zeros) << out; head != front {
			if odd(head) != 0 {
				break
			}
			front, high = head, value(head)*100000000
		}
		counts[n] = high + value(tail)
		n++
		text = text[digits+1:]
		used += digits + 1
	}
	return n, used
}

var tens = [9]uint64{1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000}

// parse reads whole lines of text until counts is full. used is the bytes done
// with; bad says what is wrong with the line that follows them.
func (d *Reader) parse(text []byte, counts []uint64, edges []int16) (n, used int, bad string) {
	i := 0
	for n < len(counts) {
		if k, size := same(text[i:], d.digits, counts[n:]); k > 0 {
			clear(edges[n : n+k])
			n += k
			d.line += int64(k)
			i += size
			continue
		}
		// Up to sixteen digits and a line feed.
		if i+24 <= len(text) {
			v, k := number(binary.LittleEndian.Uint64(text[i:]))
			if k == 8 {
				w, m := number(binary.LittleEndian.Uint64(text[i+8:]))
				v, k = v*tens[m]+w, 8+m
			}
			if k > 0 && k < 16 && text[i+k] == '\n' {
				counts[n], edges[n] = v, 0
				n++
				d.line++
				d.digits = k
				i += k + 1
				continue
			}
		}
		end := bytes.IndexByte(text[i:], '\n')
		if end < 0 {
			return n, i, ""
		}
		v, edge, skip, why := d.slow(text[i : i+end])
		if why != "" {
			return n, i, why
		}
		if !skip {
			counts[n], edges[n] = v, edge
			n++
		}
		d.line++
		i += end + 1
	}
	return n, i, ""
}
