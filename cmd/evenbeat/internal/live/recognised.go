package live

import (
	"fmt"
	"math"
	"strings"

	"evenbeat/devices/formats"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

// String says how far the search at a port has come; "" if nothing is to be said.
func (s SearchStep) String() string {
	switch f := s.Finding; f.State {
	case recognise.Noise:
		return fmt.Sprintf("%s at %s: noise; trying other settings. Press the button again.", s.Port, Framing(s.Settings))
	case recognise.Between:
		return fmt.Sprintf("%s: %s still fit. Once more, please.", s.Port, formatsOf(f))
	case recognise.Unknown:
		return s.Port + ": no known format, at any settings. What comes keeps a clock's pace: it is timed by its arrival alone."
	case recognise.Found:
		return HowSure(s.Port, f.Candidates[0]) + "."
	}
	return ""
}

// Framing writes port settings as 9600 baud 8n1.
func Framing(s port.Settings) string {
	parity := "n"
	if s.Parity != "" {
		parity = s.Parity[:1]
	}
	return fmt.Sprintf("%d baud %d%s%g", s.Baud, s.DataBits, parity, s.StopBits)
}

func formatsOf(f recognise.Finding) string {
	names := make([]string, len(f.Candidates))
	for i, c := range f.Candidates {
		names[i] = c.Format
	}
	return strings.Join(names, " and ")
}

// callings are what the kinds of instrument are called.
var callings = map[string]string{"caliper": "Caliper", "indicator": "Indicator", "beat": "Beat sensor",
	"air": "Air sensor", "force": "Force gauge", "reference": "Time receiver"}

// HowSure says what was found at a place and how sure that is, in words and as odds.
func HowSure(at string, c recognise.Candidate) string {
	word := "likely"
	switch {
	case c.Bits <= 0:
		return fmt.Sprintf("Taken for %s at %s, by its pace alone", c.Format, at)
	case c.Bits >= 40:
		word = "beyond doubt"
	case c.Bits >= 24:
		word = "as good as certain"
	case c.Bits >= 16:
		word = "very likely"
	}
	f, _ := formats.Named(c.Format) // candidates come from that table
	return fmt.Sprintf("%s recognised at %s: %s (%s), %s (noise would look like this once in %s)",
		callings[f.Instrument], at, f.Title, c.Format, word, odds(c.Bits))
}

// odds writes 2^bits in words.
func odds(bits float64) string {
	n := math.Exp2(min(max(bits, 0), 60))
	switch {
	case n >= 1e12:
		return "a million million times or more"
	case n >= 1e6:
		return fmt.Sprintf("%.0f million times", n/1e6)
	case n >= 1e4:
		return fmt.Sprintf("%.0f thousand times", n/1e3)
	}
	return fmt.Sprintf("%.0f times", n)
}

// ProfileLines writes the lines to keep in the settings file, so that the
// instrument is known from its first byte on.
func ProfileLines(h *recognise.Heard) string {
	s := h.Settings
	parity := s.Parity
	if parity == "" {
		parity = "none"
	}
	text := fmt.Sprintf("profiles:\n  - name: my-%s\n    format: %s\n    baud: %d\n    bits: %d\n    parity: %s\n    stop: %g\n",
		h.Format, h.Format, s.Baud, s.DataBits, parity, s.StopBits)
	if h.NeedsUnit {
		text += "    unit: mm   # the lines name none: mm, in or thou, as the instrument shows\n"
	}
	return text
}
