//go:build !manpages

// Command evenbeat is a bench measurement logger for people who build, restore
// and service mechanical clocks.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"
)

func main() {
	tellPanics()
	growStack()
	ctx, stop := untilEnded()
	status := run(ctx, os.Args[1:], os.Environ(), os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// untilEnded ends with Ctrl-C, and with the other signals that end what runs long.
func untilEnded() (context.Context, context.CancelFunc) {
	ends := []os.Signal{os.Interrupt, syscall.SIGTERM}
	if !signal.Ignored(syscall.SIGHUP) { // as nohup has it
		ends = append(ends, syscall.SIGHUP)
	}
	return signal.NotifyContext(context.Background(), ends...)
}

// tellPanics has a panic that nobody catches end the program by a signal: Go's own
// status for it is 2, which here means a wrong call.
func tellPanics() { debug.SetTraceback("crash") }

// growStack makes the stack as large as the database engine needs while it is still
// shallow. If it grows deep in the engine instead, the runtime reads its tables of every
// function on it, each time: with a book, 1.5 MB more of memory.
//
//go:noinline
func growStack() byte {
	var room [32 << 10]byte
	return room[len(os.Args)%len(room)]
}
