// Package lines cuts bytes into lines, for the wire formats that are sent as
// lines. CR, LF and CRLF all end one: an end of line behind an end of line is
// nothing. Common practice, no source.
package lines

import (
	"slices"
	"strconv"

	"evenbeat/devices"
)

// Max is the longest line taken, in bytes without its end. The longest of the
// formats is a time sentence of 82 (NMEA 0183, from memory).
const Max = 128

// settle is how soon after a broken line came back a byte must follow to be taken
// for the rest of a frame whose start was lost, in nanoseconds: within a frame the
// next byte comes in 2 ms from 4800 baud on. Longer, and whole lines would be
// refused that an instrument sends at once.
const settle = 2e6

// A Framer holds the line that is being received: at most Max bytes, so that a
// flood of noise can't grow it. The zero value is ready.
type Framer struct {
	buf  [Max]byte
	n    int
	at   devices.Stamp
	over bool // the line is longer than Max, and its start was told as a fault
	cut  bool // the line began just after the port came back: its start may be lost

	broken   bool // no byte came yet since the port came back
	brokenAt int64
}

// A LineFunc appends to dst what a line says. The line's bytes are good only
// until it returns.
type LineFunc func(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said

// Decode calls each for every line that c completes; at is the stamp of the
// line's first byte. Lines longer than Max, and ones that were broken off or may
// have lost their start, are appended to dst as faults, and so is c if it is a
// fault itself.
func (f *Framer) Decode(dst []devices.Said, c devices.Chunk, each LineFunc) []devices.Said {
	if c.Fault != "" {
		return f.fault(dst, c)
	}
	for _, b := range c.Bytes {
		if b == '\n' || b == '\r' {
			if f.n > 0 {
				dst = f.end(dst, each)
			}
			continue
		}
		if f.n == 0 {
			f.at = c.At
			f.cut = f.broken && c.At.Mono-f.brokenAt < settle
			f.broken = false
		}
		if f.n == Max {
			dst = append(dst, Fault(f.at, devices.FaultTooLong, f.buf[:], ""))
			f.n, f.over, f.at = 0, true, c.At
		}
		f.buf[f.n] = b
		f.n++
	}
	return dst
}

func (f *Framer) end(dst []devices.Said, each LineFunc) []devices.Said {
	line := f.buf[:f.n]
	over, cut := f.over, f.cut
	f.n, f.over, f.cut = 0, false, false
	switch {
	case over:
		return append(dst, Fault(f.at, devices.FaultTooLong, line, ""))
	case cut:
		return append(dst, Fault(f.at, devices.FaultLost, line, "its start may have been lost with the port"))
	}
	return each(dst, line, f.at)
}

// fault tells of c, a fault of the line. A step of the host's clock loses no
// bytes, so the line being received goes on.
func (f *Framer) fault(dst []devices.Said, c devices.Chunk) []devices.Said {
	if c.Fault != devices.FaultClockStep {
		dst = f.Flush(dst)
		f.broken, f.brokenAt = true, c.At.Mono
	}
	return append(dst, devices.Said{Kind: devices.KindFault, At: c.At, Fault: c.Fault, Text: c.Text})
}

// Flush appends the unfinished line to dst, as a fault.
func (f *Framer) Flush(dst []devices.Said) []devices.Said {
	if f.n > 0 {
		dst = append(dst, Fault(f.at, devices.FaultGarbage, f.buf[:f.n], "broken off"))
	}
	f.n, f.over, f.cut = 0, false, false
	return dst
}

// Fault makes a fault of bytes that were received, with what is wrong with them
// unless the kind says it all. Unquote gives the bytes back.
func Fault(at devices.Stamp, kind devices.FaultKind, b []byte, why string) devices.Said {
	text := strconv.Quote(string(b))
	if why != "" {
		text += ": " + why
	}
	return devices.Said{Kind: devices.KindFault, At: at, Fault: kind, Text: text}
}

// Unquote returns the received bytes that a fault's text opens with; false if it
// has none.
func Unquote(text string) ([]byte, bool) {
	q, err := strconv.QuotedPrefix(text)
	if err != nil {
		return nil, false
	}
	s, err := strconv.Unquote(q)
	return []byte(s), err == nil
}

// Trim returns line without the blanks and tabs about it.
func Trim(line []byte) []byte {
	blank := func(b byte) bool { return b == ' ' || b == '\t' }
	i := slices.IndexFunc(line, func(b byte) bool { return !blank(b) })
	if i < 0 {
		return nil
	}
	end := len(line)
	for blank(line[end-1]) {
		end--
	}
	return line[i:end]
}
