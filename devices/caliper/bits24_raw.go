package caliper

import (
	"fmt"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// Bits24RawFormat describes the wire format.
func Bits24RawFormat() devices.Format {
	return devices.Format{
		Name: "bits24-raw", Title: "length as three bytes", Instrument: "caliper",
		New:            func(quantity.Unit) devices.Decoder { return new(Bits24Raw) },
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
		Recognition: devices.Recognition{
			Rank: devices.RankBytes, Frames: 3, Fits: small,
			// In a frame two bits are fixed, and five more of the magnitude are zero for
			// a small length. Its three bytes are worth one and a half.
			Weigh: func(_ []devices.Chunk, said []devices.Said) float64 { return 8.5 * float64(len(said)) },
		},
	}
}

// Bits24Raw decodes frames of three bytes, the number of Bits24Hex with its least
// significant byte first. Frames are at least 50 ms apart, and nothing else marks
// where one begins: bytes that are less than 40 ms behind the last belong to its
// frame, so that even at 300 baud, 33 ms a byte, a frame holds together. A frame is
// read when the pause behind it is over or told. Common practice, no source.
//
// A reading carries the stamp of its frame's first byte, and as text the bytes in
// the order in which they came, in hexadecimal: "cc 18 00" is 63.48 mm. Frames of
// any other length come back as faults with their bytes. Between calls it holds
// the bytes of one frame, and of one that is too long a part. The zero value is
// ready.
type Bits24Raw struct {
	buf      [16]byte
	n        int
	over     bool // the frame is longer than buf
	at, last devices.Stamp
}

// pause is the silence that ends a frame of Bits24Raw, in nanoseconds.
const pause = 40e6

// Decode appends to dst the readings and faults that c completes.
func (d *Bits24Raw) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	broken := c.Fault != "" && c.Fault != devices.FaultClockStep
	if broken || c.At.Mono-d.last.Mono >= pause {
		dst = d.Flush(dst)
	}
	if c.Fault != "" {
		return append(dst, devices.Said{Kind: devices.KindFault, At: c.At, Fault: c.Fault, Text: c.Text})
	}
	for _, b := range c.Bytes {
		if d.n == len(d.buf) {
			dst = append(dst, lines.Fault(d.at, devices.FaultTooLong, d.buf[:], ""))
			d.n, d.over = 0, true
		}
		if d.n == 0 {
			d.at = c.At
		}
		d.buf[d.n] = b
		d.n++
		d.last = c.At
	}
	return dst
}

// Flush appends the frame that is being received to dst, as a reading or a fault.
func (d *Bits24Raw) Flush(dst []devices.Said) []devices.Said {
	b := d.buf[:d.n]
	over := d.over
	d.n, d.over = 0, false
	switch {
	case len(b) == 0:
		return dst
	case over:
		return append(dst, lines.Fault(d.at, devices.FaultTooLong, b, ""))
	case len(b) != 3:
		return append(dst, lines.Fault(d.at, devices.FaultGarbage, b, ""))
	}
	return append(dst, bits24(d.at, b, fmt.Sprintf("% x", b), uint32(b[2])<<16|uint32(b[1])<<8|uint32(b[0])))
}
