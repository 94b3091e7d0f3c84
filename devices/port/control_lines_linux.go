package port

import (
	"errors"
	"unsafe"

	"golang.org/x/sys/unix"

	"evenbeat/devices"
)

// lineWaker waits with the ioctl TIOCMIWAIT, and learns from TIOCGICOUNT how often
// each line moved (tty_ioctl(2), Linux).
type lineWaker struct {
	fd     int
	counts lineCounts
}

// lineCounts is struct serial_icounter_struct: how often each line has moved, and
// fields not used here.
type lineCounts struct {
	cts, dsr, ri, dcd int32
	_                 [16]int32
}

const allLines = unix.TIOCM_CTS | unix.TIOCM_DSR | unix.TIOCM_CD | unix.TIOCM_RI

// Waker returns a waker with a descriptor of its own, since its wait may outlast the
// port.
func (d *opened) Waker() (waker, error) {
	fd, err := unix.FcntlInt(uintptr(d.lock.fd), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	w := &lineWaker{fd: fd}
	if w.counts, err = w.count(); err != nil {
		return nil, errors.Join(err, w.Close()) // a driver that doesn't count doesn't wake either
	}
	return w, nil
}

func (w *lineWaker) Wait() error {
	for {
		if err := unix.IoctlSetInt(w.fd, unix.TIOCMIWAIT, allLines); !errors.Is(err, unix.EINTR) {
			return err
		}
	}
}

func (w *lineWaker) count() (c lineCounts, err error) {
	_, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(w.fd), unix.TIOCGICOUNT, uintptr(unsafe.Pointer(&c)))
	if errno != 0 {
		return c, errno
	}
	return c, nil
}

func (w *lineWaker) Lines() (on devices.Pins, moved moves, err error) {
	// The lines are read between two equal counts, so that state and count are of one
	// moment. If the lines never stand still, they are of nearly one.
	counts, err := w.count()
	bits := 0
	for range 8 {
		before := counts
		if err != nil {
			return 0, moved, err
		}
		if bits, err = unix.IoctlGetInt(w.fd, unix.TIOCMGET); err != nil {
			return 0, moved, err
		}
		if counts, err = w.count(); counts == before {
			break
		}
	}
	if err != nil {
		return 0, moved, err
	}
	for i, l := range [...]struct {
		bit      int
		now, was int32
	}{
		{unix.TIOCM_CTS, counts.cts, w.counts.cts}, {unix.TIOCM_DSR, counts.dsr, w.counts.dsr},
		{unix.TIOCM_CD, counts.dcd, w.counts.dcd}, {unix.TIOCM_RI, counts.ri, w.counts.ri},
	} {
		if bits&l.bit != 0 {
			on |= 1 << i
		}
		moved[i] = int(l.now - l.was)
	}
	w.counts = counts
	return on, moved, nil
}

func (w *lineWaker) Close() error { return unix.Close(w.fd) }
