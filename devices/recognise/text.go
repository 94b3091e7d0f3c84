package recognise

import (
	"math"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/lines"
)

// Lines of digits and letters that mean nothing are the noise that is hardest to
// tell from an instrument: a printer's log, a console, another instrument's menu.
// Each of the sums below is how much less likely such noise is to have sent what
// came than the format. They are products of shares that each have a mean of 1 at
// most under noise, so that noise reaches 2^b times at most once in 2^b streams,
// however long it goes on (Ville's inequality, from memory).
const (
	needShape = 16
	// needNumbers is less, as three counts hold no more: noise of bare numbers is
	// taken for a counter about once in 2^needNumbers streams.
	needNumbers = 8
)

// What a character tells that comes again in its place: noise is taken to be
// digits one time in two, and one of about twenty others else; a line ends at one
// character in ten.
const (
	digitBits = 1.0
	otherBits = 4.3
	endBits   = 3.3
	// formBits is what a line tells by having the format's form at all.
	formBits = 2.0
)

// alike weighs that lines have the shape of the one before: the same characters
// in the same places, but for the digits.
func alike(said []devices.Said) float64 {
	bits := formBits
	for i := 1; i < len(said); i++ {
		last, now := shape(said[i-1].Text), shape(said[i].Text)
		bits += formBits
		switch {
		case now == last:
			bits += worth(now)
		case foot(now) == foot(last): // fewer digits before the point, or blanks for them
			bits += worth(foot(now)) - 1
		default:
			bits -= otherBits
		}
	}
	return bits
}

// shape writes 0 for each digit.
func shape(line string) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return '0'
		}
		return r
	}, strings.TrimSpace(line))
}

// foot drops the digits before the first point, and blanks and sign before them.
func foot(shape string) string {
	at := strings.IndexAny(shape, ".,")
	if at < 0 {
		return strings.TrimLeft(shape, "0 +-")
	}
	head := strings.TrimRight(shape[:at], "0")
	return strings.TrimRight(head, " +-") + shape[at:]
}

func worth(shape string) float64 {
	digits := strings.Count(shape, "0")
	return digitBits*float64(digits) + otherBits*float64(len(shape)-digits) + endBits
}

// sixDigits: that a line of text has six digits is worth four bits, that they name
// a small length five.
func sixDigits(said []devices.Said) float64 { return 9 * float64(len(said)) }

// widths are the wraps that a counter may have.
func widths() [3]float64 { return [3]float64{1 << 16, 1 << 24, 1 << 32} }

// foreseenCounts weighs how well each count is foretold by those before: by the
// step before, and, less likely, by the one before that (a tick against a tock), by
// two steps (a beat was missed), and by each of these across a wrap.
func foreseenCounts(said []devices.Said) float64 {
	bits := 0.0
	for i := 2; i < len(said); i++ {
		now, last := float64(said[i].Beat.Count), float64(said[i-1].Beat.Count)
		step := last - float64(said[i-2].Beat.Count)
		steps := []float64{step, 2 * step}
		if i > 2 {
			steps = append(steps, float64(said[i-2].Beat.Count)-float64(said[i-3].Beat.Count))
		}
		off, rarely := math.Abs(last+step-now), math.Inf(1)
		for _, s := range steps {
			if s <= 0 {
				continue
			}
			rarely = min(rarely, math.Abs(last+s-now))
			for _, w := range widths() {
				rarely = min(rarely, math.Abs(last+s-w-now))
			}
		}
		bits += max(foreseen(now, off, 2), foreseen(now, rarely, 24))
	}
	return bits
}

// foreseenIntervals weighs how well each interval is foretold by the two before.
func foreseenIntervals(said []devices.Said) float64 {
	bits, sum := 0.0, uint64(0)
	var each []float64
	for _, s := range said { // the decoder sums the intervals up
		each = append(each, float64(s.Beat.Count-sum))
		sum = s.Beat.Count
	}
	for i := 1; i < len(each); i++ {
		off := math.Abs(each[i] - each[i-1])
		if i > 1 {
			off = min(off, math.Abs(each[i]-each[i-2]))
		}
		bits += foreseen(each[i], off, 2)
	}
	return bits
}

// foreseen returns the evidence of a number that is off by so much from the
// nearest of some forecasts. Noise has all numbers of its length alike; a counter
// has one about a forecast every other time, near or far by its logarithm; shares
// is among how many forecasts that is divided.
func foreseen(number, off, shares float64) float64 {
	length := math.Pow(10, math.Floor(math.Log10(max(1, number)))+1)
	near := length / (2 * (off + 1) * math.Log(length) * shares)
	return math.Log2((1 + near) / 2)
}

// plain tells whether a line holds a unit or a point, by which one line alone can
// be believed of an instrument that is expected.
func plain(s devices.Said) bool {
	text := s.Text
	if raw, ok := lines.Unquote(text); ok {
		text = string(raw)
	}
	return strings.ContainsAny(text, ".,") || s.Kind == devices.KindReading
}
