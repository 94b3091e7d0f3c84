//go:build linux || darwin

package terminal

import "golang.org/x/sys/unix"

// singleKeys has the terminal hand over keys as they are pressed, without echo;
// Ctrl-C still interrupts. The function it returns puts the terminal back.
func singleKeys(fd int) (restore func() error, err error) {
	old, err := unix.IoctlGetTermios(fd, getTermios)
	if err != nil {
		return nil, err
	}
	set := *old
	set.Lflag &^= unix.ICANON | unix.ECHO
	set.Cc[unix.VMIN], set.Cc[unix.VTIME] = 1, 0
	if err := unix.IoctlSetTermios(fd, setTermios, &set); err != nil {
		return nil, err
	}
	return func() error { return unix.IoctlSetTermios(fd, setTermios, old) }, nil
}
