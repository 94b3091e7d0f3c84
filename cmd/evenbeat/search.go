package main

import (
	"context"
	"fmt"
	"math"
	"strings"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

// seeker finds an instrument of one kind at a port, or at all of them, by what it
// sends.
type seeker struct {
	*app
	expected instrument // by the profile that is tried first
	lines    []recognise.Line
	auto     bool // the lines are all ports there are, not one that was named
	pins     bool
	now      func() devices.Stamp // one for all openings, so that their stamps compare
	wanted   func(configs.Profile) bool
	tell     func(port string, s port.Settings, f recognise.Finding)
}

// seek opens a port, or with auto all that can be opened, for a search.
func (a *app) seek(name, expected string, pins bool, wanted func(configs.Profile) bool) (*seeker, error) {
	ins, err := a.instrument(expected)
	if err != nil {
		return nil, err
	}
	s := &seeker{app: a, expected: ins, pins: pins, now: port.HostClock(), wanted: wanted, tell: a.tellSearch}
	if name != "auto" {
		l, err := s.open(name, ins.settings)
		if err != nil {
			return nil, err
		}
		s.lines = []recognise.Line{l}
		return s, nil
	}
	s.auto = true
	all, err := port.List()
	if err != nil {
		return nil, fmt.Errorf("listing serial ports: %w", err)
	}
	if len(all) == 0 {
		return nil, badCall("--port auto: this computer has no serial port: plug the instrument in, or name its port")
	}
	for _, p := range all {
		l, err := s.open(p.Name, ins.settings)
		if err != nil {
			a.skip(err)
			continue
		}
		s.lines = append(s.lines, l)
	}
	if len(s.lines) == 0 {
		return nil, badCall("--port auto: none of the %d ports can be opened: see above", len(all))
	}
	return s, nil
}

func (s *seeker) open(name string, set port.Settings) (recognise.Line, error) {
	return port.Open(name, port.Options{Settings: set, Now: s.now, Log: s.log, Reconnect: true, Pins: s.pins})
}

// skip tells of a port that auto passes over.
func (a *app) skip(err error) { a.say("  ! passed over: %v\n", err) }

// find waits until an instrument is recognised; nil if ctx ended and nothing came.
// It is ready for work, and what it has said so far is delivered first.
func (s *seeker) find(ctx context.Context) (*recognise.Heard, instrument, error) {
	search := recognise.Search{
		Open: s.open, Settings: recognise.Ways(s.expected.settings), Expect: s.expected.profile.Format, Tell: s.tell,
		Wanted: func(format string) bool {
			p, err := s.profileOf(format)
			return err == nil && s.wanted(p)
		},
	}
	var h *recognise.Heard
	var err error
	if !s.auto {
		h, err = search.At(ctx, s.lines[0])
	} else {
		search.Expect = "" // nobody named the port: the instrument must show itself
		h, err = search.First(ctx, s.lines, s.skip)
	}
	if h == nil || err != nil {
		return nil, instrument{}, err
	}
	ins, err := s.instrumentOf(h)
	return h, ins, err
}

// profileOf returns the profile by which a recognised format is read: the expected
// one if the format is its, else the one of the format's name.
func (s *seeker) profileOf(format string) (configs.Profile, error) {
	if s.expected.profile.Format == format {
		return s.expected.profile, nil
	}
	return s.loaded.Profile(format)
}

// instrumentOf makes a recognised instrument ready for work.
func (s *seeker) instrumentOf(h *recognise.Heard) (instrument, error) {
	p, err := s.profileOf(h.Format)
	if err != nil {
		return instrument{}, err
	}
	ins, err := s.instrument(p.Name)
	if err != nil {
		return ins, err
	}
	ins.settings = h.Settings
	if !h.NeedsUnit || p.Unit != "" {
		return ins, nil
	}
	// Without --units each line is refused as one without a unit, and says so.
	ins.decoder, err = formats.New(h.Format, s.assume())
	return ins, err
}

// lengths tells whether a profile's instrument measures lengths.
func lengths(p configs.Profile) bool {
	return p.Kind == configs.KindCaliper || p.Kind == configs.KindMicrometer || p.Kind == configs.KindIndicator
}

// beats tells whether a profile's instrument hears beats.
func beats(p configs.Profile) bool { return p.Kind == configs.KindBeat }

// tellSearch tells how far the search at a port has come.
func (a *app) tellSearch(name string, set port.Settings, f recognise.Finding) {
	switch f.State {
	case recognise.Noise:
		a.say("  %s at %s: noise, trying other settings; press the button again.\n", name, framing(set))
	case recognise.Between:
		a.say("  %s: %s still fit; once more, please.\n", name, formatsOf(f))
	case recognise.Found:
		a.say("  %s: %s.\n", name, howSure(f.Candidates[0]))
	}
}

// framing writes port settings as 9600 baud 8n1.
func framing(s port.Settings) string {
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

// howSure says what was found and how sure that is, in words and as odds.
func howSure(c recognise.Candidate) string {
	word := "likely"
	switch {
	case c.Bits >= 40:
		word = "beyond doubt"
	case c.Bits >= 24:
		word = "as good as certain"
	case c.Bits >= 16:
		word = "very likely"
	}
	return fmt.Sprintf("this is %s, %s (noise looks so once in %s)", c.Format, word, odds(c.Bits))
}

// odds writes 2^bits in words.
func odds(bits float64) string {
	n := math.Exp2(min(max(bits, 0), 60))
	switch {
	case n >= 1e12:
		return "a million million times or more"
	case n >= 1e6:
		return fmt.Sprintf("%.0f million times", n/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.0f thousand times", n/1e3)
	}
	return fmt.Sprintf("%.0f times", n)
}

// profileLines writes the lines to keep in the settings file, so that the
// instrument is known from its first byte on.
func profileLines(h *recognise.Heard) string {
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
