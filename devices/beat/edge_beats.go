package beat

import (
	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// EdgeBeats describes beats as changes of a control line, stamped by the host. A
// beat's edge tells which: 0 CTS off, 1 CTS on, 2 and 3 DSR, 4 and 5 DCD, 6 and 7 RI.
// A sensor that gives a pulse makes two changes a beat, told apart by that number.
// Common practice, no source.
//
// Bytes don't belong on such a line, and come back as faults.
func EdgeBeats() devices.Format {
	return devices.Format{
		Name: "edge-beats", Title: "beats on a control line", Instrument: "beat",
		New:         func(quantity.Unit) devices.Decoder { return edgeBeats{lines.NewDecoder(stray)} },
		Recognition: devices.Recognition{Rank: devices.RankControlLine, Frames: 3, Weigh: edges},
	}
}

type edgeBeats struct{ *lines.Decoder }

func (d edgeBeats) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
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
	return d.Decoder.Decode(dst, c)
}

// DecodesPins makes it a devices.PinDecoder.
func (edgeBeats) DecodesPins() {}

func stray(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	return append(dst, lines.Fault(at, devices.FaultGarbage, line, "bytes where only control lines should speak"))
}

// edges weighs changes. A control line doesn't change by itself, but a loose one may.
// Any bytes speak against beats: a receiver of time that gives a pulse sends some, at
// the wrong baud rate too.
func edges(chunks []devices.Chunk, said []devices.Said) float64 {
	bits := 8 * float64(len(said))
	for _, c := range chunks {
		bits -= 4 * float64(len(c.Bytes))
	}
	return bits
}
