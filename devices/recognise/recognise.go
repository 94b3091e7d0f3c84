// Package recognise finds the wire format and the parity of an instrument from what it
// sends. A format is found only if noise is very unlikely to look like it, and the
// finding says how unlikely.
package recognise

import (
	"cmp"
	"math/bits"
	"slices"

	"evenbeat/devices"
	"evenbeat/devices/formats"
)

// State is how far recognition has come.
type State uint8

// The states.
const (
	Silent  State = iota // too little arrived to say anything
	Noise                // the bytes make no frame: try other port settings
	Between              // two or more formats still fit: one more reading may decide
	Found
	Unknown // no settings gave a format: it is taken for beats, by its pace alone
)

// Candidate is a wire format that fits what arrived, with the bits of its line.
type Candidate struct {
	Format   string
	DataBits int
	Parity   string // as port.Settings names it
	// NeedsUnit says that the lengths have no unit, so the profile must name one.
	NeedsUnit bool
	Frames    int
	// Bits is the evidence for it: noise looks like this once in 2^Bits times.
	Bits float64
}

// Finding is what is known so far. Candidates holds the format that was found, or those
// that still fit.
type Finding struct {
	State      State
	Candidates []Candidate
	Heard      []byte // the latest bytes, some 60 of them
}

const (
	// enough is the evidence at which a format is believed, in bits: one in 17 million
	// streams of noise has as much.
	enough = 24
	// ahead is by how much a format must lead one of its rank for which there is some
	// evidence, but too little yet, in bits: an echo among the first beats foretells
	// nothing.
	ahead = 16
	// plenty is how many bytes must arrive before they are called noise, and muchText
	// how many if all are text: at the wrong settings no instrument sends that.
	plenty   = 64
	muchText = 2048
	// keep bounds the bytes that are held.
	keep = 4096
	// fewest is how many bytes a burst must have to be called garbled. Three at a time
	// are a format of their own, and opening a port may cut one.
	fewest = 7
	// muchHeard is how many bytes in lines are enough to take the expected format if it
	// is mostly good.
	muchHeard = 1024
)

// Recogniser gathers what arrives, the last 4096 bytes of it. The zero value is ready.
type Recogniser struct {
	// Expect is the format that the user named or implied; "" for none. One flawless
	// line of it is believed.
	Expect string

	chunks []devices.Chunk
	bytes  int
}

// Add takes what a port delivered. It copies the bytes.
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
	f := r.fits()
	f.Heard = r.latest()
	return f
}

// latest returns some of the latest bytes, whole chunks if they are short.
func (r *Recogniser) latest() (b []byte) {
	const most = 60
	for _, c := range slices.Backward(r.chunks) {
		if len(b)+len(c.Bytes) > most && len(b) > 0 {
			break
		}
		b = append(slices.Clone(c.Bytes[:min(len(c.Bytes), most)]), b...)
	}
	return b
}

func (r *Recogniser) fits() Finding {
	for _, rank := range ranks() {
		switch fit := r.ofRank(rank); {
		case len(fit) == 1:
			return Finding{State: Found, Candidates: fit}
		case len(fit) > 1:
			return Finding{State: Between, Candidates: fit}
		}
	}
	if c, ok := r.likely(); ok {
		return Finding{State: Found, Candidates: []Candidate{c}}
	}
	text := r.text()
	if r.bytes >= plenty && text < r.bytes || r.bytes >= muchText || r.garbled(text) {
		return Finding{State: Noise}
	}
	return Finding{State: Silent}
}

// ofRank returns the formats of a rank that fit, the likeliest first, without those far
// behind it. With them come those that don't fit yet but may overtake it.
func (r *Recogniser) ofRank(rank []devices.Format) (fit []Candidate) {
	var later []Candidate
	for _, line := range r.lines() {
		for _, f := range rank {
			switch c, how := judge(f, line); how {
			case fits:
				fit = append(fit, c)
			case yet:
				later = append(later, c)
			}
		}
		if len(fit) > 0 {
			break // take the first reading of the bits that makes sense
		}
	}
	if len(fit) == 0 {
		return nil
	}
	slices.SortFunc(fit, func(a, b Candidate) int { return cmp.Compare(b.Bits, a.Bits) })
	best := fit[0].Bits
	fit = slices.DeleteFunc(fit, func(c Candidate) bool { return c.Bits < best-enough })
	return append(fit, slices.DeleteFunc(later, func(c Candidate) bool { return c.Bits < max(0, best-ahead) })...)
}

// likely reports whether the expected format fits where none was found. What the user
// names is believed sooner: one flawless line is enough if it holds a unit or a point.
// So is much that is mostly good, such as a clock's beats among echoes.
func (r *Recogniser) likely() (Candidate, bool) {
	f, err := formats.Named(r.Expect)
	if err != nil {
		return Candidate{}, false
	}
	for _, line := range r.lines() {
		c, said, bad := sum(f, line)
		good := c.Frames > 0 && bad == 0 && !slices.ContainsFunc(said, func(s devices.Said) bool { return !plain(s) })
		much := inLines(line) >= muchHeard && bad*mostlyGood <= inLines(line)
		if good || much {
			return c, true
		}
	}
	return Candidate{}, false
}

// garbled reports, once a burst has ended, that it can't be text. An instrument heard at
// the wrong speed gives few bytes for each press, so it would take long to wait for many.
func (r *Recogniser) garbled(text int) bool {
	return r.bytes >= fewest && len(r.chunks[len(r.chunks)-1].Bytes) == 0 && 2*text <= r.bytes
}

// text returns how many of the bytes are those of text.
func (r *Recogniser) text() (most int) {
	for _, line := range r.lines() {
		text := 0
		for _, c := range line.chunks {
			for _, b := range c.Bytes {
				if b >= ' ' && b <= '~' || b == '\r' || b == '\n' || b == '\t' {
					text++
				}
			}
		}
		most = max(most, text)
	}
	return most
}

// received is what arrived, under one reading of its bits.
type received struct {
	dataBits int
	parity   string
	chunks   []devices.Chunk
}

// lines returns the ways to read the bits that arrived. A port set to 8 bits without
// parity receives 7 bits with parity as the same frames, with the parity as eighth bit.
// So no other setting is needed to find out.
func (r *Recogniser) lines() []received {
	ways := []received{{8, "none", r.chunks}}
	for _, parity := range []string{"even", "odd", "mark"} {
		if r.bytes > 0 && r.all(parity) {
			ways = append(ways, received{7, parity, r.sevenBits()})
		}
	}
	return ways
}

// hasParity reports whether the eighth bit of b is the parity of the other seven.
func hasParity(b byte, parity string) bool {
	switch parity {
	case "even":
		return bits.OnesCount8(b)%2 == 0
	case "odd":
		return bits.OnesCount8(b)%2 == 1
	case "mark":
		return b >= 0x80
	}
	return true
}

func (r *Recogniser) all(parity string) bool {
	for _, c := range r.chunks {
		for _, b := range c.Bytes {
			if !hasParity(b, parity) {
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

// Bauds returns the speeds to try in turn while a port receives noise, the commonest
// first (common practice, no source).
func Bauds() []int {
	return []int{9600, 115200, 4800, 2400, 19200, 38400, 57600, 1200, 300, 600, 230400, 460800, 921600}
}
