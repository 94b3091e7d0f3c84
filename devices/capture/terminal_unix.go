//go:build unix

package capture

import (
	"context"
	"errors"
	"os"
	"time"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// terminal is the instrument's end of a pseudo-terminal.
type terminal struct {
	master *os.File
	name   string
}

// openTerminal makes a pair that is raw and echoes nothing, so that what is written
// before the reader has set it itself arrives as it was written. The other end is
// closed again: the master then tells whether anyone has it open.
func openTerminal() (*terminal, error) {
	master, tty, err := pty.Open()
	if err != nil {
		return nil, err
	}
	_, err = term.MakeRaw(int(tty.Fd()))
	t := &terminal{name: tty.Name()}
	if err == nil {
		t.master, err = pollable(master)
	}
	return t, errors.Join(err, tty.Close(), master.Close())
}

// pollable returns a file for the same terminal whose writes can be ended: those
// of the pty package wait for ever where nobody reads.
func pollable(f *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	return os.NewFile(uintptr(fd), f.Name()), nil
}

// hasReader reports whether a program has the other end open. It also throws away
// what that program wrote, which would fill the line and stop it.
func (t *terminal) hasReader() (bool, error) {
	raw, err := t.master.SyscallConn()
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
		// A deadline that can't be set leaves the write to the reader's going.
		_ = t.master.SetWriteDeadline(time.Unix(1, 0))
	})
	defer stop()
	_, err := t.master.Write(b)
	return err
}

func (t *terminal) close() error { return t.master.Close() }
