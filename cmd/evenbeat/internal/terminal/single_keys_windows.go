package terminal

import "golang.org/x/sys/windows"

// singleKeys has the console hand over keys as they are pressed, without echo;
// Ctrl-C still interrupts. The function it returns puts the console back.
func singleKeys(fd int) (restore func() error, err error) {
	var old uint32
	if err := windows.GetConsoleMode(windows.Handle(fd), &old); err != nil {
		return nil, err
	}
	set := func(mode uint32) error { return windows.SetConsoleMode(windows.Handle(fd), mode) }
	if err := set(old &^ (windows.ENABLE_LINE_INPUT | windows.ENABLE_ECHO_INPUT)); err != nil {
		return nil, err
	}
	return func() error { return set(old) }, nil
}
