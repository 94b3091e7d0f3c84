package live

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"evenbeat/devices"
	"evenbeat/devices/port"
)

// queueLength bounds what may wait for the recorder. A full queue makes the port
// wait, and then the system's own buffer: nothing is dropped in between.
const queueLength = 256

// Source delivers stamped chunks until ctx ends: a port, or a recording of one.
type Source interface {
	Run(ctx context.Context, deliver func(devices.Chunk) error) error
}

// Input is an instrument and where its bytes come from.
type Input struct {
	Instrument Instrument
	Port       string
	Source     Source  // nil when readings are typed, or with a Search
	Search     *Search // finds the rest; nil when it is known
	// Other makes an instrument of another format ready, where the format was
	// recognised; nil where somebody named it.
	Other func(format string) (Instrument, error)
}

// Close closes the ports of an input that is never used. A session closes them by itself.
func (in Input) Close(ctx context.Context) (err error) {
	ended, stop := context.WithCancel(ctx)
	stop()
	var open []Source
	if in.Source != nil {
		open = append(open, in.Source)
	}
	if in.Search != nil {
		for _, l := range in.Search.lines {
			open = append(open, l)
		}
	}
	for _, src := range open {
		err = errors.Join(err, src.Run(ended, func(devices.Chunk) error { return nil }))
	}
	return err
}

// Listen decodes what src delivers and hands each batch of what was said to say,
// until ctx ends or src does; what is left of an unfinished frame comes last. The
// batch is overwritten once say has returned.
func Listen(ctx context.Context, src Source, d devices.Decoder, say func([]devices.Said) error) (err error) {
	defer Caught(&err)
	var said []devices.Said
	err = src.Run(ctx, func(c devices.Chunk) error {
		said = d.Decode(said[:0], c)
		if len(said) == 0 {
			return nil
		}
		return say(said)
	})
	if rest := d.Flush(nil); len(rest) > 0 && err == nil {
		err = say(rest)
	}
	return err
}

// Open opens a port for an instrument; "auto" is the only port there is. The port
// waits for its instrument when that goes away. Stamps are by now: ports whose stamps
// are to be compared need the same one. Always run the source, or close it.
func (b Bench) Open(name string, ins Instrument, now func() devices.Stamp) (Input, error) {
	if name == "auto" {
		all, err := b.Ports()
		if err != nil {
			return Input{}, err
		}
		all = slices.DeleteFunc(all, func(i port.Info) bool { return i.Gone })
		switch {
		case len(all) == 0:
			return Input{}, noPort()
		case len(all) > 1:
			names := ""
			for _, p := range all {
				names += " " + p.Name
			}
			return Input{}, &CallError{fmt.Errorf("--port auto: this computer has several ports: name one of%s", names)}
		}
		name = all[0].Name
	}
	_, pins := ins.Decoder.(devices.PinDecoder)
	p, err := port.Open(name, port.Options{Settings: ins.Settings, Now: now, Log: b.Log, Reconnect: true, Pins: pins, Given: b.Settings.Ports})
	if err != nil {
		return Input{}, err
	}
	return Input{Instrument: ins, Port: name, Source: p}, nil
}

// Ports lists the serial ports of this computer, then those that only the settings name.
func (b Bench) Ports() ([]port.Info, error) {
	all, err := port.List()
	if err != nil {
		return nil, fmt.Errorf("listing serial ports: %w", err)
	}
	for _, name := range b.Settings.Ports {
		if !slices.ContainsFunc(all, func(i port.Info) bool { return i.Name == name }) {
			all = append(all, port.Given(name))
		}
	}
	return all, nil
}

func noPort() error {
	return &CallError{errors.New("--port auto: this computer has no serial port: plug the instrument in, or name its port")}
}
