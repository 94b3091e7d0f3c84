package caliper

import (
	"fmt"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// Bits24Raw describes frames of three bytes: the number of bits24-hex, least
// significant byte first. The bytes "cc 18 00", in hexadecimal, are 63.48 mm.
//
// Frames are at least 50 ms apart, and nothing else marks where one begins. Bytes
// less than 40 ms after the last belong to its frame, so that a frame holds together
// even at 300 baud, 33 ms a byte. A frame is read once the pause behind it has passed.
// Common practice, no source.
func Bits24Raw() devices.Format {
	return devices.Format{
		Name: "bits24-raw", Title: "length as three bytes", Instrument: "caliper",
		New:            func(quantity.Unit) devices.Decoder { return new(bits24Raw) },
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
		Recognition: devices.Recognition{
			Rank: devices.RankBytes, Frames: 3, Fits: small,
			// In a frame two bits are fixed, and five more of the magnitude are zero for
			// a small length. Its three bytes are worth one and a half.
			Weigh: func(_ []devices.Chunk, said []devices.Said) float64 { return 8.5 * float64(len(said)) },
		},
	}
}

// bits24Raw holds one frame, and of a frame that is too long a part. Its readings
// have the bytes in the order of arrival as text, in hexadecimal.
type bits24Raw struct {
	buf      [16]byte
	n        int
	over     bool // the frame is longer than buf
	at, last devices.Stamp
}

// pause is the silence that ends a frame, in nanoseconds.
const pause = 40e6

func (d *bits24Raw) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
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

func (d *bits24Raw) Flush(dst []devices.Said) []devices.Said {
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
