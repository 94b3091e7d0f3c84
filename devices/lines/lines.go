// Package lines cuts bytes into lines, for the wire formats that are sent as lines.
// CR, LF and CRLF all end a line, and an empty line says nothing. Common practice, no
// source.
package lines

import (
	"bytes"
	"strconv"

	"evenbeat/devices"
)

// Max is the longest line taken, in bytes without its end. The longest of the
// formats is a time sentence of 82 (NMEA 0183, from memory).
const Max = 128

// settle is how soon after the port came back a byte is taken for the rest of a frame
// whose start was lost, in nanoseconds. Within a frame the next byte comes in 2 ms at
// 4800 baud or more. A longer time would refuse whole lines that an instrument sends
// at once.
const settle = 2e6

// A LineFunc appends to dst what a line says; at is the stamp of its first byte. The
// line's bytes are good only until it returns.
type LineFunc func(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said

// Decoder is a devices.Decoder that hands each line to a function. It holds the line
// that is being received, of which it keeps at most Max bytes.
type Decoder struct {
	each LineFunc
	buf  [Max]byte
	n    int
	at   devices.Stamp
	over bool // the line is longer than Max, and its start came out as a fault
	cut  bool // the line began just after the port came back: its start may be lost

	broken   bool // no byte came yet since the port came back
	brokenAt int64
}

// NewDecoder returns a decoder that calls each for every line.
func NewDecoder(each LineFunc) *Decoder { return &Decoder{each: each} }

// Decode appends to dst what the lines that c completes say. Lines longer than Max
// come out as faults, and so do lines that were broken off or may have lost their
// start, and c if it is a fault itself.
func (d *Decoder) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	if c.Fault != "" {
		return d.fault(dst, c)
	}
	if len(c.Bytes) == 0 && c.Changed == 0 {
		d.broken = false // a pause: the next byte begins a line
	}
	for _, b := range c.Bytes {
		if b == '\n' || b == '\r' {
			if d.n > 0 {
				dst = d.end(dst)
			}
			continue
		}
		if d.n == 0 {
			d.at = c.At
			d.cut = d.broken && c.At.Mono-d.brokenAt < settle
			d.broken = false
		}
		if d.n == Max {
			dst = append(dst, Fault(d.at, devices.FaultTooLong, d.buf[:], ""))
			d.n, d.over, d.at = 0, true, c.At
		}
		d.buf[d.n] = b
		d.n++
	}
	return dst
}

func (d *Decoder) end(dst []devices.Said) []devices.Said {
	line := d.buf[:d.n]
	over, cut := d.over, d.cut
	d.n, d.over, d.cut = 0, false, false
	switch {
	case over:
		return append(dst, Fault(d.at, devices.FaultTooLong, line, ""))
	case cut:
		return append(dst, Fault(d.at, devices.FaultLost, line, "its start may have been lost with the port"))
	}
	return d.each(dst, line, d.at)
}

// fault appends c, a fault of the port. A step of the host's clock loses no bytes, so
// the line goes on.
func (d *Decoder) fault(dst []devices.Said, c devices.Chunk) []devices.Said {
	if c.Fault != devices.FaultClockStep {
		dst = d.Flush(dst)
		d.broken, d.brokenAt = true, c.At.Mono
	}
	return append(dst, devices.Said{Kind: devices.KindFault, At: c.At, Fault: c.Fault, Text: c.Text})
}

// Flush appends the unfinished line to dst, as a fault.
func (d *Decoder) Flush(dst []devices.Said) []devices.Said {
	if d.n > 0 {
		dst = append(dst, Fault(d.at, devices.FaultGarbage, d.buf[:d.n], "broken off"))
	}
	d.n, d.over, d.cut = 0, false, false
	return dst
}

// Fault makes a fault of the bytes b. why says what is wrong with them, unless the
// kind says it all. Unquote gives the bytes back.
func Fault(at devices.Stamp, kind devices.FaultKind, b []byte, why string) devices.Said {
	text := strconv.Quote(string(b))
	if why != "" {
		text += ": " + why
	}
	return devices.Said{Kind: devices.KindFault, At: at, Fault: kind, Text: text}
}

// Unquote returns the bytes that a fault's text opens with; false if it has none.
func Unquote(text string) ([]byte, bool) {
	q, err := strconv.QuotedPrefix(text)
	if err != nil {
		return nil, false
	}
	s, err := strconv.Unquote(q)
	return []byte(s), err == nil
}

// Trim returns line without the blanks and tabs around it.
func Trim(line []byte) []byte { return bytes.Trim(line, " \t") }
