package beat

import (
	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// EdgeBeatsFormat describes the wire format.
func EdgeBeatsFormat() devices.Format {
	return devices.Format{
		Name: "edge-beats", Title: "beats on a control line", Instrument: "beat",
		New:         func(quantity.Unit) devices.Decoder { return new(EdgeBeats) },
		Recognition: devices.Recognition{Rank: devices.RankControlLine, Frames: 3, Weigh: edges},
	}
}

// EdgeBeats takes every change of a control line for a beat, stamped by the host.
// Its edge tells which: 0 CTS off, 1 CTS on, 2 and 3 DSR, 4 and 5 DCD, 6 and 7 RI.
// A sensor that gives a pulse makes two changes a beat, told apart by that number.
// Common practice, no source.
//
// Bytes don't belong on such a line, and come back as faults. Between calls it
// holds one line of them. The zero value is ready.
type EdgeBeats struct{ framer lines.Framer }

// Decode appends to dst the beats of c, or faults.
func (d *EdgeBeats) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	for i, pin := range [...]devices.Pins{devices.PinCTS, devices.PinDSR, devices.PinDCD, devices.PinRI} {
		if c.Changed&pin == 0 {
			continue
		}
		b := devices.Beat{Edge: int16(2 * i), HasEdge: true}
		if c.Pins&pin != 0 {
			b.Edge++
		}
		dst = append(dst, devices.Said{Kind: devices.KindBeat, At: c.At, Beat: b})
	}
	return d.framer.Decode(dst, c, stray)
}

// DecodesPins makes it a devices.PinDecoder.
func (*EdgeBeats) DecodesPins() {}

// Flush appends stray bytes to dst, as a fault.
func (d *EdgeBeats) Flush(dst []devices.Said) []devices.Said { return d.framer.Flush(dst) }

func stray(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	return append(dst, lines.Fault(at, devices.FaultGarbage, line, "bytes where only control lines should speak"))
}

// edges: a control line doesn't change by itself, but one that hangs loose may. Bytes
// speak against it, also where they make no line: a receiver of time that gives a
// pulse looks so at the wrong baud rate.
func edges(chunks []devices.Chunk, said []devices.Said) float64 {
	bits := 8 * float64(len(said))
	for _, c := range chunks {
		bits -= 4 * float64(len(c.Bytes))
	}
	return bits
}
