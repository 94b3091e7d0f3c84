//go:build unix

package port

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"go.bug.st/serial"
	"golang.org/x/sys/unix"
)

// follow returns what a name stands for. A link may point elsewhere after a replug,
// so it is followed anew at each opening.
func follow(name string) string {
	if path, err := filepath.EvalSymlinks(name); err == nil {
		return path
	}
	return name
}

// lock is a descriptor of our own on the device, with an advisory lock: for root, a
// second open of a port succeeds, and would set speed and mode of the first. It also
// writes without waiting. The library's own writes wait for ever if the other end
// doesn't read.
type lock struct{ fd int }

// acquire opens and locks a device. The lock belongs to the descriptor: it holds
// between programs and within one, and ends with the program.
func acquire(path string) (*lock, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.Mode()&os.ModeCharDevice == 0 {
		return nil, errNotDevice
	}
	fd, err := unix.Open(path, unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	return &lock{fd}, nil
}

func (l *lock) write(_ serial.Port, p []byte) (int, error) {
	n, err := unix.Write(l.fd, p)
	if err == nil && n < len(p) {
		err = fmt.Errorf("took %d of %d bytes", n, len(p))
	}
	return max(n, 0), err
}

// close lifts the lock explicitly: a wait for control lines may still have the device
// open.
func (l *lock) close() error {
	return errors.Join(unix.Flock(l.fd, unix.LOCK_UN), unix.Close(l.fd))
}

// isBusy reports whether err says that another holds the port.
func isBusy(err error) bool {
	return errors.Is(err, unix.EBUSY) || errors.Is(err, unix.EWOULDBLOCK)
}

// hasNoPins reports whether err says that the device has no control lines. A
// pseudo-terminal has none.
func hasNoPins(err error) bool { return errors.Is(err, unix.ENOTTY) || errors.Is(err, unix.EINVAL) }
