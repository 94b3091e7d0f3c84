package pseudo

import (
	"os"

	"golang.org/x/sys/unix"
)

// pollable returns the same file, opened so that closing it ends a Write that waits
// because nobody reads. As the pty package opens it, such a Write would wait for ever.
func pollable(f *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		_ = unix.Close(fd) // the error above matters more
		return nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), f.Close()
}
