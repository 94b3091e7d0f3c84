package port

import (
	"errors"
	"fmt"
	"time"

	"go.bug.st/serial"

	"evenbeat/devices"
)

// readTimeout is the longest that a read waits for a byte.
const readTimeout = 50 * time.Millisecond

// pinTimeout is the longest that a read waits while control lines are watched. A
// change can be seen so late.
const pinTimeout = time.Millisecond

// device is an open port.
type device interface {
	// Read waits for bytes a little while. It returns 0, nil if none arrive.
	Read(p []byte) (int, error)
	// Write doesn't wait: it fails if the other end doesn't read.
	Write(p []byte) (int, error)
	Pins() (devices.Pins, error)
	// Waker returns what waits for the control lines to change. It fails where the
	// system or the port's driver can't wait.
	Waker() (waker, error)
	Close() error
}

// opened is a port of this computer.
type opened struct {
	serial.Port
	lock *lock
}

// open opens, locks and sets a port. With discard what arrived earlier is thrown away: it
// is of a time before the session.
func open(name, path string, o Options, discard bool) (*opened, error) {
	l, err := acquire(path)
	if err != nil {
		return nil, classify(name, path, err)
	}
	p, err := serial.Open(path, o.Settings.mode())
	if err != nil {
		giveUp(l.close, o)
		return nil, classify(name, path, err)
	}
	d := &opened{Port: p, lock: l}
	err = d.prepare(o)
	if err == nil && discard {
		err = d.ResetInputBuffer()
	}
	if err != nil {
		giveUp(d.Close, o)
		return nil, classify(name, path, err)
	}
	return d, nil
}

// giveUp closes what was opened when opening failed. It only logs its own error: the
// caller returns the first one.
func giveUp(shut func() error, o Options) {
	if err := shut(); err != nil {
		o.Log.Debug().Err(err).Msg("closing")
	}
}

func (d *opened) prepare(o Options) error {
	timeout := readTimeout
	if o.Pins {
		if _, err := d.Pins(); !hasNoPins(err) {
			timeout = pinTimeout
		}
	}
	if err := d.SetReadTimeout(timeout); err != nil {
		return err
	}
	for _, line := range []struct {
		name string
		want *bool
		set  func(bool) error
	}{{"DTR", o.Settings.DTR, d.SetDTR}, {"RTS", o.Settings.RTS, d.SetRTS}} {
		if line.want == nil {
			continue
		}
		if err := line.set(*line.want); hasNoPins(err) {
			o.Log.Debug().Str("line", line.name).Msg("the port has no such control line")
		} else if err != nil {
			return fmt.Errorf("%s: %w", line.name, err)
		}
	}
	return nil
}

// Read reads what has arrived. The library panics on a descriptor above 1023, which
// must not end the program.
func (d *opened) Read(p []byte) (n int, err error) {
	defer func() {
		if r := recover(); r != nil {
			n, err = 0, fmt.Errorf("reading: %v: too many files are open", r)
		}
	}()
	return d.Port.Read(p)
}

// Write writes without waiting.
func (d *opened) Write(p []byte) (int, error) { return d.lock.write(d.Port, p) }

// Pins returns which control lines are on.
func (d *opened) Pins() (devices.Pins, error) {
	bits, err := d.GetModemStatusBits()
	if err != nil {
		return 0, err
	}
	var p devices.Pins
	for _, b := range []struct {
		on  bool
		pin devices.Pins
	}{{bits.CTS, devices.PinCTS}, {bits.DSR, devices.PinDSR}, {bits.DCD, devices.PinDCD}, {bits.RI, devices.PinRI}} {
		if b.on {
			p |= b.pin
		}
	}
	return p, nil
}

// Close closes the port and lifts the lock.
func (d *opened) Close() error { return errors.Join(d.Port.Close(), d.lock.close()) }
