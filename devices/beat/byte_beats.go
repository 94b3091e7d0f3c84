package beat

import "evenbeat/devices"

// ByteBeats takes any byte or line for a beat, at the stamp of its first byte: for
// sensors that send no number. Common practice, no source.
//
// Bytes that are less than 40 ms behind the last belong to its beat, which keeps a
// line together at 300 baud, 33 ms a byte, and is less than half the interval of
// the fastest clocks; but a byte behind an end of line begins a beat at once. So
// beats that were handed over together can be told apart only if they are lines.
// It holds no bytes. The zero value is ready.
type ByteBeats struct {
	last  int64 // when the last byte came
	open  bool  // a byte came, and no break since
	ended bool  // the last byte was an end of line
}

// together is the longest pause within what one beat sends, in nanoseconds.
const together = 40e6

// Decode appends to dst the beats that c begins, and c if it is a fault.
func (d *ByteBeats) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	if c.Fault != "" {
		if c.Fault != devices.FaultClockStep {
			d.open = false
		}
		return append(dst, devices.Said{Kind: devices.KindFault, At: c.At, Fault: c.Fault, Text: c.Text})
	}
	for _, b := range c.Bytes {
		end := b == '\r' || b == '\n'
		if !d.open || c.At.Mono-d.last >= together || d.ended && !end {
			dst = append(dst, devices.Said{Kind: devices.KindBeat, At: c.At})
		}
		d.open, d.ended, d.last = true, end, c.At.Mono
	}
	return dst
}

// Flush appends nothing: a beat is told by its first byte.
func (d *ByteBeats) Flush(dst []devices.Said) []devices.Said {
	d.open = false
	return dst
}
