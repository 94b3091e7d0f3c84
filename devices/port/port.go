package port

import (
	"context"
	"errors"
	"slices"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/devices"
)

// Options are how a port is used.
type Options struct {
	Settings Settings
	Now      func() devices.Stamp // nil: the host's clocks
	Log      zerolog.Logger
	// Reconnect makes Run wait for a port that went away until it is back.
	Reconnect bool
	// Pins makes Run watch the control lines too. Where the system can wait for a
	// change, the stamp is late by no more than it takes to wake, and a pulse between
	// two looks isn't lost. Elsewhere Run looks about a thousand times a second.
	Pins bool
	// Given are ports that the system doesn't list. The error of a port that can't be one
	// names them beside the others.
	Given []string
}

// ErrPause makes Run return but leave the port open, when deliver returns it.
var ErrPause = errors.New("paused")

// Port is a serial port that was opened and locked. Always call Run, which closes it.
// After a pause it may be called again.
type Port struct {
	name   string
	o      Options
	dev    device
	usb    USB
	reopen func() (device, error)
	ask    chan struct{}
}

// Open opens a port by the system's name for it, locks it against other programs and
// discards what arrived earlier. The error is an *Error.
func Open(name string, o Options) (*Port, error) {
	if err := o.Settings.Check(); err != nil {
		return nil, badSettings(name, err)
	}
	if o.Now == nil {
		o.Now = HostClock()
	}
	if name == "" {
		return nil, &Error{Port: `""`, Kind: NoSuchPort, Remedy: thereAre(o.Given)}
	}
	o.Log = o.Log.With().Str("port", name).Logger()
	p := &Port{name: name, o: o, ask: make(chan struct{}, 1)}
	path := follow(name)
	dev, err := open(name, path, o, true)
	if e, ok := errors.AsType[*Error](err); ok && (e.Kind == NoSuchPort || e.Kind == NotSerial) {
		e.Remedy = thereAre(o.Given)
	}
	if err != nil {
		return nil, err
	}
	p.dev, p.usb = dev, identity(path)
	p.reopen = p.find
	o.Log.Debug().Str("path", path).Str("usb", p.usb.Text).Msg("opened")
	return p, nil
}

// Name returns the name by which the port was opened.
func (p *Port) Name() string { return p.name }

// USB returns what is known of the instrument's USB identity.
func (p *Port) USB() USB { return p.usb }

// Ask makes Run send the request of the settings once. It may be called from any
// goroutine, and does nothing while an earlier call still waits.
func (p *Port) Ask() {
	select {
	case p.ask <- struct{}{}:
	default:
	}
}

// Run delivers what arrives until ctx ends or the port is gone for good, and closes
// the port. It calls deliver from this goroutine, chunk by chunk in order. A chunk's
// bytes are overwritten once deliver returns. While nothing arrives, one empty chunk
// marks the pause.
//
// When the port goes away, Run delivers a FaultUnplugged chunk. With Reconnect it then
// waits for the port to come back, under its name or, if its USB identity is known,
// under another. It goes on with a FaultReplugged chunk, and an empty one if no byte was
// lost since the port was back. Steps of the host's clock are
// delivered as FaultClockStep.
//
// Run returns nil when ctx ends, deliver's error if that fails, and an *Error of kind
// Gone if the port is gone for good. If deliver returns ErrPause, so does Run, and the
// port stays open and locked: the system keeps about 4 kB of what arrives until Run is
// called again.
func (p *Port) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	r := runner{Port: p, deliver: deliver, buf: make([]byte, 4096)}
	for {
		err := r.read(ctx)
		if errors.Is(err, ErrPause) {
			return err
		}
		if cerr := p.dev.Close(); cerr != nil {
			p.o.Log.Debug().Err(cerr).Msg("closing")
		}
		lost, ok := errors.AsType[*lostError](err)
		if !ok {
			return err
		}
		if again, err := r.replugged(ctx, lost); !again {
			return err
		}
	}
}

// replugged tells that the plug was pulled, and waits for it. It returns true when the
// port is read again from its start, else what ends the run.
func (r *runner) replugged(ctx context.Context, lost *lostError) (again bool, err error) {
	away := r.o.Now()
	// A pause must wait until the port is open.
	if err = r.fault(away, devices.FaultUnplugged, lost.Error()); err != nil && !errors.Is(err, ErrPause) {
		return false, err
	}
	if !r.o.Reconnect {
		return false, &Error{Port: r.name, Kind: Gone, Err: lost.cause, Remedy: "plug the instrument in again and start over"}
	}
	if !r.await(ctx) {
		return false, nil
	}
	back := r.o.Now()
	text := "back after " + time.Duration(back.Mono-away.Mono).Round(time.Millisecond).String()
	if err = r.fault(back, devices.FaultReplugged, text); err == nil {
		err = r.fromTheStart(back)
	}
	if err != nil && !errors.Is(err, ErrPause) {
		err = errors.Join(err, r.dev.Close())
	}
	return err == nil, err
}

// find opens the port again: by its name, unless another instrument has that name
// now, or by its USB identity. What arrived since the plug went in belongs to the session.
func (p *Port) find() (device, error) {
	path := follow(p.name)
	if p.usb.Known() && !p.usb.Same(identity(path)) {
		list, err := List()
		if err != nil {
			return nil, err
		}
		at := slices.IndexFunc(list, func(i Info) bool { return p.usb.Same(i.USB) })
		if at < 0 {
			return nil, &Error{Port: p.name, Kind: NoSuchPort}
		}
		path = list[at].Name
	}
	return open(p.name, path, p.o, false)
}

// identity returns the USB identity of the port at path, as far as it is known.
func identity(path string) USB {
	list, err := List()
	if err != nil {
		return USB{}
	}
	for _, i := range list {
		if i.Name == path {
			return i.USB
		}
	}
	return USB{}
}
