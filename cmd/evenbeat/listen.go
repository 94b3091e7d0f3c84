package main

import (
	"context"
	"slices"

	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
)

// queueLength bounds what may wait for the writer. A full queue makes the port
// wait, and then the system's own buffer: nothing is dropped in between.
const queueLength = 256

// source delivers stamped chunks until ctx ends: a port, or a recording of one.
type source interface {
	Run(ctx context.Context, deliver func(devices.Chunk) error) error
}

// listen decodes what src delivers and hands each batch of what was said to say,
// until ctx ends or src does; what is left of an unfinished frame comes last.
func listen(ctx context.Context, src source, d devices.Decoder, say func([]devices.Said) error) error {
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

// openPort opens a port for an instrument; "auto" is the only port there is. It
// waits for the port when it goes away.
func (a *app) openPort(name string, ins instrument) (*port.Port, error) {
	return a.openPortBy(port.HostClock(), name, ins)
}

// openPortBy is openPort with the clock of the stamps, for ports whose stamps are
// to be compared.
func (a *app) openPortBy(now func() devices.Stamp, name string, ins instrument) (*port.Port, error) {
	if name == "auto" {
		var err error
		if name, err = onlyPort(); err != nil {
			return nil, err
		}
	}
	_, pins := ins.decoder.(devices.PinDecoder)
	return port.Open(name, port.Options{Settings: ins.settings, Now: now, Log: a.log, Reconnect: true, Pins: pins})
}

// queueBatches returns a say for listen that copies batches into a queue.
func queueBatches(ctx context.Context, queue chan<- []devices.Said) func([]devices.Said) error {
	return func(said []devices.Said) error {
		select {
		case queue <- slices.Clone(said):
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// withinSpan bounds ctx by what --for says; an empty text is no bound. The function
// it returns is to be called in any case.
func withinSpan(ctx context.Context, text string) (context.Context, context.CancelFunc, error) {
	if text == "" {
		return ctx, func() {}, nil
	}
	d, err := quantity.ParseSpan(text)
	if err != nil {
		return ctx, nil, flagError("for", err)
	}
	bound, stop := context.WithTimeout(ctx, d)
	return bound, stop, nil
}
