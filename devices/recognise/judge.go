package recognise

import (
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

const (
	// bitsPerByte is what a byte of a frame tells: about 16 of the 256 have a place in
	// any format's lines.
	bitsPerByte = 4
	// mostlyGood: at most one in so many bytes may be damaged.
	mostlyGood = 8
	// cutStart is the longest remnant, in bytes, of a frame that was cut when the port
	// was opened. It isn't evidence against a format.
	cutStart = 40
)

// ranks returns the formats that can be recognised, in the order in which they are
// asked.
func ranks() (ranks [devices.Ranks][]devices.Format) {
	for _, f := range formats.All() {
		if r := f.Recognition; r.Frames > 0 {
			ranks[r.Rank] = append(ranks[r.Rank], f)
		}
	}
	return ranks
}

// fit is how well a format fits what arrived.
type fit uint8

const (
	never fit = iota
	yet       // the form is right, but there is too little evidence
	fits
)

// judge decides how well the format fits what arrived.
func judge(f devices.Format, r received) (Candidate, fit) {
	asks := f.Recognition
	c, good, bad := sum(f, r)
	if len(good) < asks.Frames || asks.Fits != nil && !asks.Fits(good) && (len(good) == asks.Frames || !asks.Fits(good[1:])) {
		return c, never // the first frame may have been cut, and its value may be any
	}
	if asks.Weigh != nil {
		c.Bits = asks.Weigh(r.chunks, good) - bitsPerByte*float64(bad)
	}
	if c.Bits < enough || bad*mostlyGood > inLines(r) {
		return c, never
	}
	if asks.WeighText != nil {
		text := asks.WeighText(good)
		if c.Bits = min(c.Bits, text); text < asks.Need {
			return c, yet
		}
	}
	return c, fits
}

// sum decodes what arrived, and weighs it as lines. It also returns the frames, and the
// number of bytes that make none.
func sum(f devices.Format, r received) (c Candidate, good []devices.Said, bad int) {
	d := f.New(quantity.NoUnit)
	var said []devices.Said
	for _, chunk := range r.chunks {
		said = d.Decode(said, chunk)
	}
	good, bad, noUnit := framesOf(said, f.Recognition.BareLengths)
	return Candidate{
		Format: f.Name, DataBits: r.dataBits, Parity: r.parity, NeedsUnit: noUnit, Frames: len(good),
		Bits: bitsPerByte * float64(inLines(r)-2*bad),
	}, good, bad
}

// framesOf returns the frames of what was said, the number of bytes that made none,
// and whether a length came without a unit. That is a frame if bare lengths are.
func framesOf(said []devices.Said, bare bool) (good []devices.Said, bad int, noUnit bool) {
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

// plain reports whether a line holds a unit or a point. One such line is enough to
// believe the instrument that is expected.
func plain(s devices.Said) bool {
	text := s.Text
	if raw, ok := lines.Unquote(text); ok {
		text = string(raw)
	}
	return strings.ContainsAny(text, ".,") || s.Kind == devices.KindReading
}
