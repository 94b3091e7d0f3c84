package simulate

import (
	"os"

	"golang.org/x/sys/unix"
)

// pollable returns the same file so opened that closing it frees a Write that
// waits because nobody reads. As the pty package opens it, such a Write would
// wait for ever.
func pollable(f *os.File) (*os.File, error) {
	fd, err := unix.FcntlInt(f.Fd(), unix.F_DUPFD_CLOEXEC, 0)
	if err != nil {
		return nil, err
	}
	if err := unix.SetNonblock(fd, true); err != nil {
		_ = unix.Close(fd) // the error above is the one to tell
		return nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), f.Close()
}
