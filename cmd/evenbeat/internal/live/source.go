package live

import (
	"context"
	"fmt"

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
}

// Listen decodes what src delivers and hands each batch of what was said to say,
// until ctx ends or src does; what is left of an unfinished frame comes last. The
// batch is overwritten once say has returned.
func Listen(ctx context.Context, src Source, d devices.Decoder, say func([]devices.Said) error) error {
	var said []devices.Said
	err := src.Run(ctx, func(c devices.Chunk) error {
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

// OpenPort opens a port for an instrument; "auto" is the only port there is. The port
// waits for its instrument when that goes away. Stamps are by now: ports whose stamps
// are to be compared need the same one.
func (b Bench) OpenPort(name string, ins Instrument, now func() devices.Stamp) (*port.Port, error) {
	if name == "auto" {
		var err error
		if name, err = onlyPort(); err != nil {
			return nil, err
		}
	}
	_, pins := ins.Decoder.(devices.PinDecoder)
	return port.Open(name, port.Options{Settings: ins.Settings, Now: now, Log: b.Log, Reconnect: true, Pins: pins})
}

// Open opens a port for an instrument, as OpenPort does.
func (b Bench) Open(name string, ins Instrument, now func() devices.Stamp) (Input, error) {
	p, err := b.OpenPort(name, ins, now)
	if err != nil {
		return Input{}, err
	}
	return Input{Instrument: ins, Port: p.Name(), Source: p}, nil
}

// ports lists the serial ports, of which there must be one at least.
func ports() ([]port.Info, error) {
	all, err := port.List()
	if err != nil {
		return nil, fmt.Errorf("listing serial ports: %w", err)
	}
	if len(all) == 0 {
		return nil, &CallError{fmt.Errorf("--port auto: this computer has no serial port: plug the instrument in, or name its port")}
	}
	return all, nil
}

// onlyPort returns the port that auto means: the only one there is.
func onlyPort() (string, error) {
	all, err := ports()
	if err != nil {
		return "", err
	}
	if len(all) == 1 {
		return all[0].Name, nil
	}
	names := ""
	for _, p := range all {
		names += " " + p.Name
	}
	return "", &CallError{fmt.Errorf("--port auto: this computer has several ports: name one of%s", names)}
}
