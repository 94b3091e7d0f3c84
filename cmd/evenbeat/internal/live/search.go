package live

import (
	"context"
	"fmt"
	"slices"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

// Search finds an instrument of one kind at a port, or at all of them, by what it
// sends.
type Search struct {
	bench    Bench
	expected Instrument // by the profile that is tried first
	lines    []recognise.Line
	o        SearchOptions
}

// SearchOptions say where to search and for what.
type SearchOptions struct {
	Port     string   // by name; auto: all that can be opened
	Taken    []string // ports that auto leaves to others
	Expected string   // the profile that is tried first
	// Anything tells that no kind of instrument is expected: it must show itself.
	Anything bool
	Pins     bool                       // watch the control lines too
	Now      func() devices.Stamp       // one for all openings, so that their stamps compare
	Wanted   func(configs.Profile) bool // nil with Anything
	Tap      func(devices.Chunk)        // hears all that arrives, as it arrives; nil for nobody
}

// SearchStep is how far the search at a port has come.
type SearchStep struct {
	Port     string
	Settings port.Settings
	Finding  recognise.Finding
}

// NewSearch opens a port, or with auto all that can be opened, for a search. Of those
// that can't it tells passedOver.
func (b Bench) NewSearch(o SearchOptions, passedOver func(error)) (*Search, error) {
	ins, err := b.Instrument(o.Expected)
	if err != nil {
		return nil, err
	}
	s := &Search{bench: b, expected: ins, o: o}
	if o.Port != "auto" {
		l, err := s.open(o.Port, ins.Settings)
		if err != nil {
			return nil, err
		}
		s.lines = []recognise.Line{l}
		return s, nil
	}
	all, err := b.Ports()
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(i port.Info) bool { return slices.Contains(o.Taken, i.Name) })
	return s, s.openAll(all, passedOver)
}

// openAll opens all of the ports that can be opened.
func (s *Search) openAll(all []port.Info, passedOver func(error)) error {
	if len(all) == 0 {
		return noPort()
	}
	for _, p := range all {
		l, err := s.open(p.Name, s.expected.Settings)
		if err != nil {
			passedOver(err)
			continue
		}
		s.lines = append(s.lines, l)
	}
	if len(s.lines) == 0 {
		return &CallError{fmt.Errorf("--port auto: none of the %d ports can be opened: see above", len(all))}
	}
	return nil
}

// Apart returns an input for each port of the search, so that every instrument is heard,
// not only the first.
func (s *Search) Apart() (all []Input) {
	for _, l := range s.lines {
		one := *s
		one.lines = []recognise.Line{l}
		all = append(all, Input{Search: &one})
	}
	return all
}

func (s *Search) open(name string, set port.Settings) (recognise.Line, error) {
	p, err := port.Open(name, port.Options{Settings: set, Now: s.o.Now, Log: s.bench.Log, Reconnect: true, Pins: s.o.Pins, Given: s.bench.Settings.Ports})
	if err != nil || s.o.Tap == nil {
		return p, err
	}
	return tapped{p, s.o.Tap}, nil
}

// tapped is a port to which somebody else listens too.
type tapped struct {
	recognise.Line
	tap func(devices.Chunk)
}

func (t tapped) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return t.Line.Run(ctx, func(c devices.Chunk) error {
		t.tap(c)
		return deliver(c)
	})
}

// Find waits until an instrument is recognised; nil if ctx ended and nothing came.
// It is ready for work, and delivers first what it has said so far. Always call its
// Run, which closes the port. tell hears how far the search has come, and passedOver
// of ports that fail on the way.
func (s *Search) Find(ctx context.Context, tell func(SearchStep), passedOver func(error)) (*recognise.Heard, Instrument, error) {
	search := recognise.Search{
		Open: s.open, Settings: recognise.Ways(s.expected.Settings), Expect: s.expected.Profile.Format,
		Beats: s.o.Anything || HearsBeats(s.expected.Profile),
		Tell:  func(name string, set port.Settings, f recognise.Finding) { tell(SearchStep{name, set, f}) },
		Wanted: func(format string) bool {
			_, err := s.other(format)
			return err == nil
		},
	}
	var h *recognise.Heard
	var err error
	if s.o.Anything || s.o.Port == "auto" { // nobody named the port's instrument
		search.Expect = ""
	}
	if len(s.lines) > 1 {
		h, err = search.First(ctx, s.lines, passedOver)
	} else {
		h, err = search.At(ctx, s.lines[0])
	}
	if h == nil || err != nil {
		return nil, Instrument{}, err
	}
	ins, err := s.instrumentOf(h)
	return h, ins, err
}

// profileOf returns the profile by which a recognised format is read: the expected
// one if the format is its, else the one of the format's name.
func (s *Search) profileOf(format string) (configs.Profile, error) {
	if !s.o.Anything && s.expected.Profile.Format == format {
		return s.expected.Profile, nil
	}
	return s.bench.Profile(format)
}

// other makes an instrument of a format ready, if it is of the kind that is wanted.
func (s *Search) other(format string) (Instrument, error) {
	p, err := s.profileOf(format)
	if err == nil && !s.o.Anything && !s.o.Wanted(p) {
		err = fmt.Errorf("profile %s is a %s", p.Name, p.Kind)
	}
	if err != nil {
		return Instrument{}, err
	}
	return s.bench.Instrument(p.Name)
}

// instrumentOf makes a recognised instrument ready for work.
func (s *Search) instrumentOf(h *recognise.Heard) (Instrument, error) {
	p, err := s.profileOf(h.Format)
	if err != nil {
		return Instrument{}, err
	}
	ins, err := s.bench.Instrument(p.Name)
	if err != nil {
		return ins, err
	}
	ins.Settings = h.Settings
	if !h.NeedsUnit || p.Unit != "" {
		return ins, nil
	}
	// Where nobody named a unit each line is refused as one without, and says so.
	ins.Decoder, err = formats.New(h.Format, s.bench.Unit)
	return ins, err
}

// MeasuresLengths tells whether a profile's instrument measures lengths.
func MeasuresLengths(p configs.Profile) bool {
	return p.Kind == configs.KindCaliper || p.Kind == configs.KindMicrometer || p.Kind == configs.KindIndicator
}

// FeelsAir tells whether a profile's instrument measures the air.
func FeelsAir(p configs.Profile) bool { return p.Kind == configs.KindAir }

// HearsBeats tells whether a profile's instrument hears beats.
func HearsBeats(p configs.Profile) bool { return p.Kind == configs.KindBeat }
