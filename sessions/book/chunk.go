package book

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"math/bits"
	"slices"

	"evenbeat/sessions"
)

// Beats lie in the book as chunks, each decodable by itself:
//
//	offset  bytes    field
//	0       1        layout of the chunk, 2
//	1       1        how counts were predicted: 0 no counts (all zero), 1, 2 or 4 the lag
//	2       1        how stamps were predicted: 0 from the counts, 1, 2 or 4 the lag
//	3       uvarint  n, the number of beats, 1 to 65536
//	.       uvarint  count of the first beat                      (not for "no counts")
//	.       varint   HostMono of the first beat, µs
//	.       varint   HostUTC less HostMono of the first beat, µs
//	.       uvarint  microseconds a count, times 2^32             (only for "from the counts")
//	.       packed   n−1 count residuals                          (not for "no counts")
//	.       packed   n−1 stamp residuals, µs
//	.       runs     changes of HostUTC less HostMono, µs
//	.       runs     edge less the edge two beats before (0 before the first)
//	.       runs     1 where the beat follows a break
//	end−4   4        CRC-32C (Castagnoli) of all before it, little-endian
//
// varint and uvarint are base-128 groups, least significant first, the signed
// ones zigzagged (0, −1, 1, −2 …): encoding/binary's. A residual is a step from
// beat to beat less the step predicted for it: by lag k, the step k beats before
// (0 while there is none); from the counts, the count's step times the rate. Lag 2
// serves an escapement out of beat, lag 4 a gate that tells two edges. A packed
// column is blocks of 32 values, the last of as many as there are: a byte for the
// width in bits of the widest, 0 to 64, then all of them in that width, zigzagged,
// least significant bit first, up to the next whole byte. A column of runs is:
// uvarint zeros, then varint value, again and again until n values are told;
// trailing zeros end it without a value.
//
// Chunks of layout 1, which are read and no longer written, have the residuals as
// varints.
//
// Stamps are kept to the microsecond: bytes arrive with a jitter of some hundred
// of them. All else is kept as it came.
const (
	chunkLayout = 2
	// varintLayout is that of the chunks with varint residuals.
	varintLayout = 1
	// maxChunkBeats bounds the memory that one chunk can ask for.
	maxChunkBeats = 1 << 16
	rateShift     = 32
)

var (
	castagnoli = crc32.MakeTable(crc32.Castagnoli)
	lags       = [...]int{1, 2, 4}

	errChunkShort  = errors.New("chunk of beats is cut short")
	errChunkSum    = errors.New("chunk of beats fails its checksum")
	errChunkForm   = errors.New("chunk of beats is malformed")
	errChunkLayout = errors.New("chunk of beats has a newer layout")
)

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// encodeChunk appends the chunk of beats to dst. There must be 1 to maxChunkBeats
// of them.
func encodeChunk(dst []byte, beats []sessions.Beat) ([]byte, error) {
	n := len(beats)
	if n == 0 || n > maxChunkBeats {
		return dst, fmt.Errorf("%d beats in a chunk: must be 1 to %d", n, maxChunkBeats)
	}
	start := len(dst)
	steps := make([]int64, 2*(n-1))
	counts, stamps := steps[:n-1], steps[n-1:] // steps from beat to beat
	hasCounts := beats[0].Count != 0
	for i := range counts {
		counts[i] = int64(beats[i+1].Count - beats[i].Count)
		stamps[i] = floorDiv(beats[i+1].HostMono, 1000) - floorDiv(beats[i].HostMono, 1000)
		hasCounts = hasCounts || beats[i+1].Count != 0
	}
	countBy, countRest := byte(0), []int64(nil)
	if hasCounts {
		countBy, countRest = bestLag(counts)
	}
	stampBy, stampRest := bestLag(stamps)
	rate := stampRate(counts, stamps)
	if rate > 0 {
		if rest := lessPredicted(counts, stamps, rate); 5+packedSize(rest) < packedSize(stampRest) { // 5 for the rate
			stampBy, stampRest = 0, rest
		}
	}
	dst = append(dst, chunkLayout, countBy, stampBy)
	dst = binary.AppendUvarint(dst, uint64(n))
	if hasCounts {
		dst = binary.AppendUvarint(dst, beats[0].Count)
	}
	dst = binary.AppendVarint(dst, floorDiv(beats[0].HostMono, 1000))
	dst = binary.AppendVarint(dst, offsetOf(beats[0]))
	if stampBy == 0 {
		dst = binary.AppendUvarint(dst, rate)
	}
	dst = appendPacked(dst, countRest)
	dst = appendPacked(dst, stampRest)
	dst = appendRare(dst, beats)
	return binary.LittleEndian.AppendUint32(dst, crc32.Checksum(dst[start:], castagnoli)), nil
}

// appendRare appends the three columns that are nearly always zero.
func appendRare(dst []byte, beats []sessions.Beat) []byte {
	n := len(beats)
	dst = appendRuns(dst, n, func(i int) int64 {
		if i == 0 {
			return 0
		}
		return offsetOf(beats[i]) - offsetOf(beats[i-1])
	})
	dst = appendRuns(dst, n, func(i int) int64 {
		if i < 2 {
			return int64(beats[i].Edge)
		}
		return int64(beats[i].Edge) - int64(beats[i-2].Edge)
	})
	return appendRuns(dst, n, func(i int) int64 {
		if beats[i].Break {
			return 1
		}
		return 0
	})
}

func offsetOf(b sessions.Beat) int64 { return floorDiv(b.HostUTC-b.HostMono+500, 1000) }

func appendRuns(dst []byte, n int, value func(int) int64) []byte {
	zeros := uint64(0)
	for i := range n {
		v := value(i)
		if v == 0 {
			zeros++
			continue
		}
		dst = binary.AppendUvarint(dst, zeros)
		dst = binary.AppendVarint(dst, v)
		zeros = 0
	}
	if zeros > 0 {
		dst = binary.AppendUvarint(dst, zeros)
	}
	return dst
}

// predict returns the stamp's step for a count's step, in µs. It is sums of whole
// numbers, so that every machine predicts the same.
func predict(step int64, rate uint64) int64 {
	if step < 0 {
		return -scaled(uint64(-step), rate)
	}
	return scaled(uint64(step), rate)
}

func scaled(step, rate uint64) int64 {
	hi, lo := bits.Mul64(step, rate)
	return int64(hi<<(64-rateShift) | lo>>rateShift)
}

// stampRate returns microseconds a count times 2^32: the median over the beats,
// so that a wrap or a replug in the chunk doesn't spoil the rest; 0 if there is none.
// Of many beats some hundreds do.
func stampRate(counts, stamps []int64) uint64 {
	const enough = 512
	step := len(counts)/enough | 1 // odd: tick and tock are both in it
	ratios := make([]float64, 0, len(counts)/step+1)
	for i := 0; i < len(counts); i += step {
		if counts[i] > 0 && stamps[i] > 0 {
			ratios = append(ratios, float64(stamps[i])/float64(counts[i]))
		}
	}
	if len(ratios) == 0 {
		return 0
	}
	slices.Sort(ratios)
	r := math.Ldexp(ratios[len(ratios)/2], rateShift)
	if !(r >= 1 && r < 1<<62) {
		return 0
	}
	return uint64(r)
}

// bestLag returns the lag by which the steps take the least room, and what is left
// of them.
func bestLag(steps []int64) (lag byte, rest []int64) {
	size := math.MaxInt
	for _, l := range lags {
		r := lessLagged(steps, l)
		if s := packedSize(r); s < size {
			lag, rest, size = byte(l), r, s
		}
	}
	return lag, rest
}

// lessLagged returns the steps less those lag beats before.
func lessLagged(steps []int64, lag int) []int64 {
	rest := slices.Clone(steps)
	for i := lag; i < len(rest); i++ {
		rest[i] -= steps[i-lag]
	}
	return rest
}

// lessPredicted returns the stamps' steps less what the counts' predict.
func lessPredicted(counts, stamps []int64, rate uint64) []int64 {
	rest := slices.Clone(stamps)
	for i := range rest {
		rest[i] -= predict(counts[i], rate)
	}
	return rest
}
