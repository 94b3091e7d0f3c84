//go:build unix

package simulate

import (
	"errors"
	"fmt"

	"github.com/creack/pty"
	"golang.org/x/term"
)

// Pair makes a pseudo-terminal for an instrument. Its far side is set raw and
// kept open: bytes sent before anyone opens it would otherwise be cooked (CR LF
// to two LF) and echoed back to the instrument, and a reader that goes would take
// the line with it. Where the system has no pseudo-terminals (a bare jail, say) it
// falls back to a pipe.
func Pair() (*Link, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return pipe(), nil
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		return nil, errors.Join(fmt.Errorf("pseudo-terminal %s can't be set raw: %w", slave.Name(), err),
			slave.Close(), master.Close())
	}
	instrument, err := pollable(master)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("pseudo-terminal %s: %w", slave.Name(), err),
			slave.Close(), master.Close())
	}
	return &Link{Instrument: instrument, Name: slave.Name(), hold: slave}, nil
}
