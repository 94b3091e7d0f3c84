package main

import (
	"os"

	"golang.org/x/sys/windows"
)

// init has a console follow escape sequences, as other terminals do of themselves: the live
// rate draws over itself, and a link's code has colours. A stream that is no console has
// no mode.
func init() {
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		var mode uint32
		if h := windows.Handle(f.Fd()); windows.GetConsoleMode(h, &mode) == nil {
			_ = windows.SetConsoleMode(h, mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING) // Windows 10 knows it
		}
	}
}
