package recognise

import (
	"context"
	"errors"

	"evenbeat/devices"
	"evenbeat/devices/port"
)

// Heard is an instrument that was recognised. Always call its Run.
type Heard struct {
	Candidate
	Port string
	// Settings are those of the instrument, with its data bits and parity.
	Settings port.Settings

	line Line // nil: the port is closed
	held []devices.Chunk
}

// Run first delivers what the search received, with its stamps, so that no reading is
// lost. Then it delivers what arrives. It ends as port.Port.Run does.
func (h *Heard) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	take := deliver
	if h.DataBits == 7 {
		take = func(c devices.Chunk) error {
			checkParity(c.Bytes, h.Parity)
			return deliver(c)
		}
	}
	for _, c := range h.held {
		if err := take(c); err != nil {
			return errors.Join(err, h.shut(ctx))
		}
	}
	h.held = nil
	if h.line == nil {
		return nil
	}
	return h.line.Run(ctx, take)
}

// checkParity removes the parity from bytes that a port set to 8 bits received from an
// instrument of 7. Where the parity is wrong it sets the eighth bit, which no line of
// text has, so that the decoder refuses the line.
func checkParity(b []byte, parity string) {
	for i, c := range b {
		b[i] = c & 0x7f
		if !hasParity(c, parity) {
			b[i] |= 0x80
		}
	}
}

// shut closes the port.
func (h *Heard) shut(ctx context.Context) error {
	if h.line == nil {
		return nil
	}
	ended, stop := context.WithCancel(ctx)
	stop()
	return h.line.Run(ended, func(devices.Chunk) error { return nil })
}
