package simulate

import (
	"errors"
	"io"
)

// Link joins a simulated instrument to the program under its eyes: a
// pseudo-terminal where the system has them, else a pipe within the process.
type Link struct {
	// Instrument takes the bytes that the instrument sends.
	Instrument io.WriteCloser
	// Name is what to open as a serial port; empty for a pipe within the process,
	// whose bytes come out of Host.
	Name string
	Host io.ReadCloser

	hold io.Closer // the pseudo-terminal's other side, kept open
}

// Close pulls the plug: whoever has the port open sees it go. Bytes that were
// not yet read are lost, as the system drops them with the pair.
func (l *Link) Close() error {
	var held error
	if l.hold != nil {
		held = l.hold.Close()
	}
	return errors.Join(l.Instrument.Close(), held)
}

// pipe is the link where there is no pseudo-terminal.
func pipe() *Link {
	r, w := io.Pipe()
	return &Link{Instrument: w, Host: r}
}
