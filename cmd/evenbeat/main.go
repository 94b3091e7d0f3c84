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
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(ctx, os.Args[1:], os.Environ(), os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// tellPanics has a panic that nobody catches end the program by a signal: Go's own
// status for it is 2, which here means a wrong call.
func tellPanics() { debug.SetTraceback("crash") }
