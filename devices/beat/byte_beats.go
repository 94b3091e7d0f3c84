package beat

import (
	"bytes"
	"slices"

	"evenbeat/devices"
	"evenbeat/devices/quantity"
)

// ByteBeats describes any byte or line as a beat, at the stamp of its first byte: for
// sensors that send no number. Common practice, no source.
//
// Bytes less than 40 ms after the last belong to its beat. That keeps a line together
// at 300 baud, 33 ms a byte, and is less than half the interval of the fastest clocks.
// A byte behind an end of line begins a beat at once, so that lines that arrive
// together are told apart.
func ByteBeats() devices.Format {
	return devices.Format{
		Name: "byte-beats", Title: "beats as single bytes", Instrument: "beat",
		New:         func(quantity.Unit) devices.Decoder { return new(byteBeats) },
		Recognition: devices.Recognition{Rank: devices.RankAny, Frames: 3, Fits: regular, Weigh: repeats},
	}
}

type byteBeats struct {
	last  int64 // when the last byte came
	open  bool  // a byte came, and no break since
	ended bool  // the last byte was an end of line
}

// together is the longest pause within what one beat sends, in nanoseconds.
const together = 40e6

func (d *byteBeats) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
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

// Flush appends nothing: a beat's first byte has told it.
func (d *byteBeats) Flush(dst []devices.Said) []devices.Said {
	d.open = false
	return dst
}

// regular reports whether beats come as a clock's do: at intervals alike, of 0.05 to
// 3 s. Presses of a button don't. So a caliper heard at the wrong baud rate, whose
// garbage is the same each time, isn't taken for a clock.
func regular(said []devices.Said) bool {
	var steps []uint64
	for i := 1; i < len(said); i++ {
		steps = append(steps, uint64(max(0, said[i].At.Mono-said[i-1].At.Mono)))
	}
	low, high := slices.Min(steps), slices.Max(steps)
	return low >= 50e6 && high <= 3e9 && high-low <= high/5
}

// repeats weighs frames that repeat the one before: all their bits could be foretold.
// A frame that isn't plain text counts for it only as a single byte.
func repeats(chunks []devices.Chunk, _ []devices.Said) float64 {
	var frames [][]byte
	last, ended := int64(0), false
	for _, c := range chunks {
		for _, b := range c.Bytes {
			end := b == '\r' || b == '\n'
			if len(frames) == 0 || c.At.Mono-last >= together || ended && !end {
				frames = append(frames, nil)
			}
			at := len(frames) - 1
			frames[at], ended, last = append(frames[at], b), end, c.At.Mono
		}
	}
	bits := 0.0
	for i := 1; i < len(frames); i++ {
		weight := 8 * float64(len(frames[i]))
		plain := len(frames[i]) == 1 || !bytes.ContainsFunc(frames[i], func(c rune) bool { return c > '~' })
		if !plain || !bytes.Equal(frames[i], frames[i-1]) {
			weight = -weight
		}
		bits += weight
	}
	// That the intervals agree within a fifth is worth two bits each.
	return bits + 2*float64(len(frames)-1)
}
