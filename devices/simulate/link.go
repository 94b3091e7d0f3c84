package simulate

import (
	"errors"
	"io"

	"evenbeat/devices/pseudo"
)

// Link joins a simulated instrument to the program: by a pseudo-terminal, or by a pipe
// within the process where the system has none.
type Link struct {
	// Instrument takes the bytes that the instrument sends.
	Instrument io.WriteCloser
	// Name is what to open as a serial port; empty for a pipe within the process,
	// whose bytes come out of Host.
	Name string
	Host io.ReadCloser

	hold io.Closer // the pseudo-terminal's far end, kept open
}

// Pair makes a link for an instrument. The far end of a pseudo-terminal is kept open,
// or a reader that leaves would take the line with it.
func Pair() (*Link, error) {
	instrument, far, err := pseudo.Terminal()
	if errors.Is(err, pseudo.ErrNone) {
		return pipe(), nil
	}
	if err != nil {
		return nil, err
	}
	return &Link{Instrument: instrument, Name: far.Name(), hold: far}, nil
}

// pipe is the link where there is no pseudo-terminal.
func pipe() *Link {
	r, w := io.Pipe()
	return &Link{Instrument: w, Host: r}
}

// Close pulls the plug: whoever has the port open sees it go. Bytes that were not yet
// read are lost, as the system drops them with the pair.
func (l *Link) Close() error {
	var held error
	if l.hold != nil {
		held = l.hold.Close()
	}
	return errors.Join(l.Instrument.Close(), held)
}
