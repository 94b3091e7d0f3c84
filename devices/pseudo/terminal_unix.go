//go:build unix

package pseudo

import (
	"errors"
	"fmt"
	"os"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// Terminal makes a pseudo-terminal: the instrument's end, and the far end, whose name
// a program opens as a serial port. The far end is raw and echoes nothing, so that
// bytes sent before anyone has set it arrive as they were sent.
func Terminal() (instrument, far *os.File, err error) {
	master, far, err := pty.Open()
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", ErrNone, err)
	}
	if _, err = term.MakeRaw(int(far.Fd())); err == nil {
		instrument, err = pollable(master)
	}
	if err != nil {
		return nil, nil, errors.Join(fmt.Errorf("pseudo-terminal %s: %w", far.Name(), err), far.Close(), master.Close())
	}
	return instrument, far, nil
}
