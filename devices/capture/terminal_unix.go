//go:build unix

package capture

import (
	"context"
	"errors"
	"os"
	"time"

	"golang.org/x/sys/unix"

	"evenbeat/devices/pseudo"
)

// terminal is the instrument's end of a pseudo-terminal.
type terminal struct {
	end  *os.File
	name string
}

// openTerminal closes the far end at once: the instrument's end then shows whether
// anyone has it open.
func openTerminal() (*terminal, error) {
	instrument, far, err := pseudo.Terminal()
	if err != nil {
		return nil, err
	}
	return &terminal{instrument, far.Name()}, far.Close()
}

// hasReader reports whether a program has the far end open. It also discards what that
// program wrote, which would fill the line and stop it.
func (t *terminal) hasReader() (bool, error) {
	raw, err := t.end.SyscallConn()
	if err != nil {
		return false, err
	}
	there := false
	var perr error
	err = raw.Control(func(fd uintptr) {
		p := []unix.PollFd{{Fd: int32(fd), Events: unix.POLLIN}}
		if _, perr = unix.Poll(p, 0); errors.Is(perr, unix.EINTR) {
			perr = nil
		}
		there = p[0].Revents&unix.POLLHUP == 0
		if p[0].Revents&unix.POLLIN != 0 && there {
			_, perr = unix.Read(int(fd), make([]byte, 4096))
		}
	})
	return there, errors.Join(err, perr)
}

// write writes all of b, waiting for the reader until ctx ends.
func (t *terminal) write(ctx context.Context, b []byte) error {
	stop := context.AfterFunc(ctx, func() {
		// If no deadline can be set, the write ends when the reader goes.
		_ = t.end.SetWriteDeadline(time.Unix(1, 0))
	})
	defer stop()
	_, err := t.end.Write(b)
	return err
}

func (t *terminal) close() error { return t.end.Close() }
