package caliper

import (
	"encoding/hex"
	"fmt"

	"evenbeat/devices"
	"evenbeat/devices/lines"
)

// Bits24Hex decodes lines of six hexadecimal digits, a number of 24 bits:
//
//	bit   23    22 21   20     19 … 0
//	    unit    0  0   sign  magnitude
//
// Unit 0: the magnitude is in 0.01 mm; 1: in 0.0005 in. Sign 1 is minus. "0018CC"
// is 63.48 mm. Common practice, no source.
//
// A reading carries the stamp of its line's first byte and the line as received.
// Lines that are no frame come back as faults with their text. Between calls it
// holds one line. The zero value is ready.
type Bits24Hex struct{ framer lines.Framer }

// Decode appends to dst the readings and faults that c completes.
func (d *Bits24Hex) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	return d.framer.Decode(dst, c, bits24Line)
}

// Flush appends an unfinished line to dst, as a fault.
func (d *Bits24Hex) Flush(dst []devices.Said) []devices.Said { return d.framer.Flush(dst) }

func bits24Line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	var b [3]byte
	if len(line) == 2*len(b) {
		if _, err := hex.Decode(b[:], line); err == nil {
			return append(dst, bits24(at, line, string(line), uint32(b[0])<<16|uint32(b[1])<<8|uint32(b[2])))
		}
	}
	return append(dst, lines.Fault(at, devices.FaultGarbage, line, ""))
}

// bits24 makes a reading, or a fault, of a frame.
func bits24(at devices.Stamp, received []byte, text string, frame uint32) devices.Said {
	if frame&(3<<21) != 0 {
		return lines.Fault(at, devices.FaultGarbage, received, "bits 21 and 22 must be zero")
	}
	sign, magnitude := "", frame&(1<<20-1)
	if frame&(1<<20) != 0 {
		sign = "-"
	}
	number, unit := fmt.Sprintf("%s%d.%02d", sign, magnitude/100, magnitude%100), "mm"
	if frame&(1<<23) != 0 {
		// Steps of half a thou, so five times the magnitude in the fourth decimal.
		number, unit = fmt.Sprintf("%s%d.%04d", sign, magnitude*5/10000, magnitude*5%10000), "in"
	}
	s := said(at, received, number, unit)
	if s.Kind == devices.KindReading {
		s.Text = text
		if unit == "in" {
			s.Reading.Step *= 5
		}
	}
	return s
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
