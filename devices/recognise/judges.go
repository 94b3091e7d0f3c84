package recognise

import (
	"bytes"
	"slices"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/lines"
)

// A judge decides whether one format fits what came.
type judge struct {
	format string
	// frames is how many frames it takes at the least.
	frames int
	// fits holds what the decoder said against what such an instrument would say;
	// nil where having frames is enough.
	fits func([]devices.Said) bool
	// weigh returns the evidence in bits; nil for lines, where each byte that is in
	// a frame counts.
	weigh func(received, []devices.Said) float64
	// text, if not nil, returns the evidence against noise that is itself lines of
	// digits and letters; such noise must look like the format once in 2^need times.
	text func([]devices.Said) float64
	need float64
}

// ranks returns the formats in the order in which they are asked: those that name
// what they send, then bare numbers, then what has next to no form. A rank is asked
// only if none of the one before fits.
func ranks() [][]judge {
	return [][]judge{
		{{format: "edge-beats", frames: 3, weigh: edges}},
		{
			{format: "nmea", frames: 1}, {format: "digits52-hex", frames: 2},
			{format: "air-text", frames: 2, text: alike, need: needShape},
			{format: "text-force", frames: 2, text: alike, need: needShape},
		},
		{{format: "utc-lines", frames: 2, fits: nearHost}},
		{{format: "text-length", frames: 2, fits: pointed, text: alike, need: needShape}},
		{
			{format: "count-lines", frames: 3, fits: counting, text: foreseenCounts, need: needNumbers},
			{format: "interval-lines", frames: 3, fits: steady, text: foreseenIntervals, need: needNumbers},
			{format: "bits24-hex", frames: 3, fits: small, text: sixDigits, need: needShape},
		},
		{{format: "bits24-raw", frames: 3, fits: small, weigh: rawFrames}},
		{{format: "byte-beats", frames: 3, fits: regular, weigh: repeats}},
	}
}

// bitsPerByte is what a byte of a frame tells: of 256, about 16 have a place in
// any of the formats' lines.
const bitsPerByte = 4

// mostlyGood: at most one in so many bytes may be damaged.
const mostlyGood = 8

// cutStart is how long the remnant of a frame may be that was cut when the port
// was opened; it isn't held against a format.
const cutStart = 40

func (j judge) judge(r received) (Candidate, bool) {
	c, good, bad := j.sum(r)
	if len(good) < j.frames || j.fits != nil && !j.fits(good) && (len(good) == j.frames || !j.fits(good[1:])) {
		return c, false // the first frame may have been cut, and its value may be any
	}
	if j.weigh != nil {
		c.Bits = j.weigh(r, good) - bitsPerByte*float64(bad)
	}
	if c.Bits < enough || bad*mostlyGood > inLines(r) {
		return c, false
	}
	if j.text != nil {
		text := j.text(good)
		c.Bits = min(c.Bits, text)
		return c, text >= j.need
	}
	return c, true
}

// sum decodes what came, and weighs it as lines are weighed.
func (j judge) sum(r received) (c Candidate, good []devices.Said, bad int) {
	d, err := formats.New(j.format, formats.Options{})
	if err != nil {
		return Candidate{}, nil, 0
	}
	var said []devices.Said
	for _, chunk := range r.chunks {
		said = d.Decode(said, chunk)
	}
	good, bad, noUnit := part(said, j.format == "text-length")
	return Candidate{
		Format: j.format, DataBits: r.dataBits, Parity: r.parity, NeedsUnit: noUnit, Frames: len(good),
		Bits: bitsPerByte * float64(inLines(r)-2*bad),
	}, good, bad
}

// part parts what was said into frames and the number of bytes that made none. A
// length without a unit is a frame if bare ones are, as the profile may name it.
func part(said []devices.Said, bare bool) (good []devices.Said, bad int, noUnit bool) {
	for i, s := range said {
		raw, isBytes := lines.Unquote(s.Text)
		switch {
		case s.Kind != devices.KindFault:
			good = append(good, s)
		case bare && s.Fault == devices.FaultNoUnit:
			s.Text = string(raw)
			good, noUnit = append(good, s), true
		case isBytes && (i > 0 || len(raw) > cutStart):
			bad += len(raw)
		}
	}
	return good, bad, noUnit
}

// inLines returns the number of bytes in lines that have ended.
func inLines(r received) int {
	n, open := 0, 0
	for _, c := range r.chunks {
		for _, b := range c.Bytes {
			if b == '\r' || b == '\n' {
				n, open = n+open, 0
			} else {
				open++
			}
		}
	}
	return n
}

// pointed asks of lengths that some have a unit, or a sign or point and at most four
// digits before it: bare whole numbers are counts, and a comma behind a long number
// sets off an edge.
func pointed(said []devices.Said) bool {
	return slices.ContainsFunc(said, func(s devices.Said) bool {
		at := strings.IndexAny(s.Text, ".,")
		return s.Kind == devices.KindReading || strings.ContainsAny(s.Text, "+-") ||
			at >= 0 && len(strings.TrimLeft(s.Text[:at], " 0")) <= 4
	})
}

// nearHost asks that times be within ten years of the host's.
func nearHost(said []devices.Said) bool {
	const years = 10 * 366 * 86400e9
	return !slices.ContainsFunc(said, func(s devices.Said) bool {
		off := float64(s.Beat.Count) - float64(s.At.UTC)
		return off > years || off < -years
	})
}

// counting asks that counts rise, but for one wrap. How alike the steps are is
// weighed, not asked: beats are missed, and echoes are heard.
func counting(said []devices.Said) bool {
	wraps := 0
	for i := 1; i < len(said); i++ {
		last, now := said[i-1].Beat.Count, said[i].Beat.Count
		switch {
		case now > last:
		case now > last/2: // a wrap falls from near the top
			return false
		default:
			wraps++
		}
	}
	return wraps <= 1
}

// steady asks that intervals be alike, and that three or more don't rise steadily as
// counts do. The first may have been cut.
func steady(said []devices.Said) bool {
	var each []uint64
	for i := 1; i < len(said); i++ { // the decoder sums the intervals up
		each = append(each, said[i].Beat.Count-said[i-1].Beat.Count)
	}
	if slices.Min(each) == 0 || slices.Max(each)/2 > slices.Min(each) {
		return false
	}
	return len(each) < 3 || !slices.IsSorted(each) || each[0] == each[len(each)-1]
}

// smallLength is what most of what is measured at the bench is below, in metres.
const smallLength = 0.3

func small(said []devices.Said) bool {
	return !slices.ContainsFunc(said, func(s devices.Said) bool {
		return s.Reading.Value > smallLength || s.Reading.Value < -smallLength
	})
}

// rawFrames: in a frame two bits are fixed, and of the magnitude five more are zero
// in what is small; that it has three bytes is worth one and a half.
func rawFrames(_ received, said []devices.Said) float64 { return 8.5 * float64(len(said)) }

// edges: a control line doesn't change by itself, but one that hangs loose may. Bytes
// don't go with it, nor do they where they make no line: so looks a receiver of time
// that gives a pulse too, at the wrong baud rate.
func edges(r received, said []devices.Said) float64 {
	bits := 8 * float64(len(said))
	for _, c := range r.chunks {
		bits -= bitsPerByte * float64(len(c.Bytes))
	}
	return bits
}

// regular asks that beats come as a clock's do: at intervals alike, of 0.05 to 3 s.
// Presses of a button don't, so that a caliper heard at the wrong baud rate, whose
// garbage is the same each time, isn't taken for a clock.
func regular(said []devices.Said) bool {
	var steps []uint64
	for i := 1; i < len(said); i++ {
		steps = append(steps, uint64(max(0, said[i].At.Mono-said[i-1].At.Mono)))
	}
	low, high := slices.Min(steps), slices.Max(steps)
	return low >= 50e6 && high <= 3e9 && high-low <= high/5
}

// repeats weighs what comes again as it came before, frame for frame: all its bits
// are then known beforehand. What isn't plain text counts only as single bytes.
func repeats(r received, _ []devices.Said) float64 {
	var frames [][]byte
	last, ended := int64(0), false
	for _, c := range r.chunks {
		for _, b := range c.Bytes {
			end := b == '\r' || b == '\n'
			if len(frames) == 0 || c.At.Mono-last >= 40e6 || ended && !end {
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
	// The intervals' agreement within a fifth is worth two bits each.
	return bits + 2*float64(len(frames)-1)
}
