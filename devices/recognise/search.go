package recognise

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"

	"evenbeat/devices"
	"evenbeat/devices/port"
)

// Line is a port, as package port opens it.
type Line interface {
	Name() string
	// Run delivers what arrives, and closes the port unless deliver returns
	// port.ErrPause.
	Run(ctx context.Context, deliver func(devices.Chunk) error) error
}

// Search finds out what is connected to a port, or to which of several ports an
// instrument is connected. While it receives only noise it opens the port anew at other
// settings.
type Search struct {
	// Open opens a port. All ports that it opens must share one clock.
	Open func(name string, s port.Settings) (Line, error)
	// Settings are tried in this order, over and over. The first are those of the
	// expected instrument.
	Settings []port.Settings
	// Expect is the format that one flawless line is enough for. It is assumed if the
	// search ends with bytes in which no format was found.
	Expect string
	// Wanted reports whether a format is of the kind of instrument wanted. Any other ends
	// the search at its port, with an *UnwantedError.
	Wanted func(format string) bool
	// Beats says that a sensor of beats may be there, and that the search ends once it
	// has tried all settings without success. What comes as regularly as beats is then taken for
	// byte-beats, whatever it means. Anything else is an *UnknownError.
	Beats bool
	// Tell, if not nil, is called with each new state of the search at a port, from one
	// goroutine at a time.
	Tell func(name string, s port.Settings, f Finding)
}

// UnwantedError says that an instrument was recognised, but is of another kind.
type UnwantedError struct{ Port, Format string }

func (e *UnwantedError) Error() string {
	return fmt.Sprintf("port %s: the instrument there sends %s and is of another kind: name the port or the profile of the one you mean", e.Port, e.Format)
}

// CallersFault reports that another call would have succeeded.
func (e *UnwantedError) CallersFault() bool { return true }

// Ways returns the settings to try: those of the expected instrument, then all speeds
// without parity, then the slower ones with 8 bits and a parity. 7 bits need no settings
// of their own: a port set to 8 bits without parity receives them with any parity.
func Ways(expected port.Settings) []port.Settings {
	expected.Baud, expected.DataBits = cmp.Or(expected.Baud, 9600), cmp.Or(expected.DataBits, 8)
	expected.Parity, expected.StopBits = cmp.Or(expected.Parity, "none"), cmp.Or(expected.StopBits, 1)
	ways := []port.Settings{expected}
	add := func(baud int, parity string) {
		s := expected
		s.Baud, s.DataBits, s.Parity, s.StopBits = baud, 8, parity, 1
		for _, w := range ways {
			if w.Baud == s.Baud && w.DataBits == s.DataBits && w.Parity == s.Parity {
				return
			}
		}
		ways = append(ways, s)
	}
	for _, baud := range Bauds() {
		add(baud, "none")
	}
	for _, parity := range []string{"even", "odd"} {
		for _, baud := range []int{9600, 4800, 2400, 1200, 19200, 300} {
			add(baud, parity)
		}
	}
	return ways
}

// errNext ends the listening at one setting.
var errNext = errors.New("try the next settings")

// At searches at one port, which is open at the first of the settings. It closes the
// port unless it returns an instrument. If ctx ends first, what was received by then is
// taken for the expected format. It returns nil, nil if nothing was.
func (s *Search) At(ctx context.Context, line Line) (*Heard, error) {
	l := listener{Search: s, name: line.Name()}
	for i := 0; ; i++ {
		l.settings = s.Settings[i%len(s.Settings)]
		l.r, l.state = Recogniser{Expect: s.Expect}, Silent
		err := line.Run(ctx, l.take)
		switch {
		case errors.Is(err, port.ErrPause):
			h := l.heard(l.found, line)
			if s.Wanted != nil && !s.Wanted(h.Format) {
				return nil, errors.Join(&UnwantedError{l.name, h.Format}, h.shut(ctx))
			}
			return h, nil
		case err == nil:
			return l.unsure(), nil
		case !errors.Is(err, errNext):
			return nil, err
		}
		l.noise = append(l.noise[:min(len(l.noise), mostNoise)], l.garbage())
		if s.Beats {
			l.all = append(l.all, l.r.chunks...)
		}
		if s.Beats && i == len(s.Settings) { // the first settings again: the sensor may have been starting
			return l.conclude()
		}
		if line, err = s.Open(l.name, s.Settings[(i+1)%len(s.Settings)]); err != nil {
			return nil, err
		}
	}
}

// mostNoise bounds the pieces of noise that are kept, and noiseBytes the bytes of each.
// The beginning of endless noise is enough.
const (
	mostNoise  = 32
	noiseBytes = 128
)

// listener is a search at one port.
type listener struct {
	*Search
	name     string
	settings port.Settings
	r        Recogniser
	state    State
	found    Candidate
	noise    []devices.Chunk // what other settings gave, as faults
	all      []devices.Chunk // what they gave, where it may be beats
}

func (l *listener) take(c devices.Chunk) error {
	l.r.Add(c)
	if c.Fault == devices.FaultUnplugged {
		return nil // nothing more can be done before it is back
	}
	f := l.r.Finding()
	if l.Tell != nil && f.State != l.state {
		l.Tell(l.name, l.settings, f)
	}
	l.state = f.State
	switch f.State {
	case Noise:
		return errNext
	case Found:
		l.found = f.Candidates[0]
		return port.ErrPause
	}
	return nil
}

// garbage makes a fault of the noise that was received at one setting.
func (l *listener) garbage() devices.Chunk {
	var b []byte
	var at devices.Stamp
	for _, c := range l.r.chunks {
		if len(b) == 0 {
			at = c.At
		}
		b = append(b, c.Bytes...)
	}
	text := fmt.Sprintf("%q: noise at %d baud, parity %s", b[:min(len(b), noiseBytes)], l.settings.Baud, l.settings.Parity)
	return devices.Chunk{At: at, Fault: devices.FaultGarbage, Text: text}
}

func (l *listener) heard(c Candidate, line Line) *Heard {
	h := &Heard{Candidate: c, Port: l.name, Settings: l.settings, line: line, held: append(l.noise, l.r.chunks...)}
	if h.DataBits == 7 {
		h.Settings.DataBits, h.Settings.Parity = 7, h.Parity
	}
	h.Parity = h.Settings.Parity
	return h
}

// unsure takes what was received for the expected format, when no more will arrive.
func (l *listener) unsure() *Heard {
	if l.Expect == "" || l.r.bytes == 0 && len(l.noise) == 0 {
		return nil
	}
	return l.heard(Candidate{Format: l.Expect, DataBits: 8}, nil)
}

// First searches at several ports at once. The first at which a wanted instrument is
// found wins, and the others are closed. It calls skip with the error of a port that
// fails, or that has another kind of instrument. If all do, the error joins theirs.
func (s *Search) First(ctx context.Context, lines []Line, skip func(error)) (*Heard, error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	type end struct {
		h   *Heard
		err error
	}
	ends := make(chan end)
	var telling sync.Mutex
	one := *s
	one.Tell = func(name string, set port.Settings, f Finding) {
		telling.Lock()
		defer telling.Unlock()
		if s.Tell != nil && ctx.Err() == nil {
			s.Tell(name, set, f)
		}
	}
	for _, line := range lines {
		go func() {
			h, err := one.At(ctx, line)
			ends <- end{h, err}
		}()
	}
	var winner *Heard
	var failed []error
	for range lines {
		switch e := <-ends; {
		case e.err != nil:
			failed = append(failed, e.err)
			if winner == nil {
				skip(e.err)
			}
		case e.h == nil:
		case winner == nil && (e.h.line != nil || ctx.Err() != nil):
			winner = e.h
			stop()
		default:
			failed = append(failed, e.h.shut(ctx))
		}
	}
	if winner == nil && len(failed) == len(lines) {
		return nil, errors.Join(failed...)
	}
	return winner, nil
}
