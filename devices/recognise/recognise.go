// Package recognise finds the wire format and the parity of an instrument from
// what it sends. It never takes noise for a format: what fits must be so unlikely
// to come by chance that it can be believed, and it says how unlikely.
package recognise

import (
	"cmp"
	"slices"

	"evenbeat/devices"
)

// State is how far recognition has come.
type State uint8

// The states.
const (
	Silent  State = iota // too little came to say anything
	Noise                // bytes came that make no frame: try other port settings
	Between              // two or more formats still fit: one more reading may tell
	Found
)

// Candidate is a wire format, with the bits of the line, that fits what came.
type Candidate struct {
	Format   string
	DataBits int
	Parity   string // as port.Settings names it
	// NeedsUnit tells that the lengths come without a unit, so that the profile must
	// name one.
	NeedsUnit bool
	Frames    int
	// Bits is how much speaks for it: noise looks like this once in 2^Bits times.
	Bits float64
}

// Finding is what is known so far. Candidates holds the one format that was found,
// or the ones that it is between.
type Finding struct {
	State      State
	Candidates []Candidate
}

const (
	// enough is the evidence from which on a format is believed, in bits: one in 17
	// million streams of noise has as much.
	enough = 24
	// plenty is the number of bytes from which on it is said that nothing fits.
	plenty = 64
	// keep bounds the bytes that are held.
	keep = 4096
)

// Recogniser gathers what arrives. The zero value is ready. It holds the last 4096
// bytes.
type Recogniser struct {
	chunks []devices.Chunk
	bytes  int
}

// Add takes what a port delivered; the bytes are copied.
func (r *Recogniser) Add(c devices.Chunk) {
	if len(c.Bytes) > keep {
		c.Bytes = c.Bytes[len(c.Bytes)-keep:]
	}
	c.Bytes = slices.Clone(c.Bytes)
	r.chunks = append(r.chunks, c)
	r.bytes += len(c.Bytes)
	for r.bytes > keep || len(r.chunks) > keep {
		r.bytes -= len(r.chunks[0].Bytes)
		r.chunks = slices.Delete(r.chunks, 0, 1)
	}
}

// Finding says what fits so far.
func (r *Recogniser) Finding() Finding {
	for _, rank := range ranks() {
		var fits []Candidate
		for _, line := range r.lines() {
			for _, f := range rank {
				if c, ok := f.judge(line); ok {
					fits = append(fits, c)
				}
			}
			if len(fits) > 0 {
				break // the first reading of the bits that makes sense is taken
			}
		}
		switch {
		case len(fits) == 1:
			return Finding{Found, fits}
		case len(fits) > 1:
			slices.SortFunc(fits, func(a, b Candidate) int { return cmp.Compare(b.Bits, a.Bits) })
			return Finding{Between, fits}
		}
	}
	if r.bytes >= plenty {
		return Finding{State: Noise}
	}
	return Finding{State: Silent}
}

// received is what came, under one reading of its bits.
type received struct {
	dataBits int
	parity   string
	chunks   []devices.Chunk
}

// lines returns the ways to read the bits that came. A port set to 8 bits without
// parity sees 7 bits with parity as the same frames, the parity being the eighth
// bit, so that it needn't be set otherwise to find out.
func (r *Recogniser) lines() []received {
	ways := []received{{8, "none", r.chunks}}
	for _, p := range []struct {
		name string
		is   func(byte) bool
	}{{"even", func(b byte) bool { return ones(b)%2 == 0 }}, {"odd", func(b byte) bool { return ones(b)%2 == 1 }}, {"mark", func(b byte) bool { return b >= 0x80 }}} {
		if r.bytes > 0 && r.all(p.is) {
			ways = append(ways, received{7, p.name, r.sevenBits()})
		}
	}
	return ways
}

func ones(b byte) (n int) {
	for ; b != 0; b &= b - 1 {
		n++
	}
	return n
}

func (r *Recogniser) all(is func(byte) bool) bool {
	for _, c := range r.chunks {
		for _, b := range c.Bytes {
			if !is(b) {
				return false
			}
		}
	}
	return true
}

func (r *Recogniser) sevenBits() []devices.Chunk {
	chunks := slices.Clone(r.chunks)
	for i := range chunks {
		b := slices.Clone(chunks[i].Bytes)
		for j := range b {
			b[j] &= 0x7f
		}
		chunks[i].Bytes = b
	}
	return chunks
}

// Bauds returns the speeds to try in turn while a port hears noise, the commonest
// first (common practice, no source).
func Bauds() []int {
	return []int{9600, 115200, 4800, 2400, 19200, 38400, 57600, 1200, 300, 600, 230400, 460800, 921600}
}
