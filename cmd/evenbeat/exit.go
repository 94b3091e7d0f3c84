package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/quantity"
)

// Exit statuses, as the help of every command promises.
const (
	statusDone    = 0
	statusFailed  = 1
	statusBadCall = 2
	statusFault   = 3 // of the program itself
)

// badCall makes a wrong call or wrong input: exit status 2.
func badCall(format string, args ...any) error {
	return &live.CallError{Err: fmt.Errorf(format, args...)}
}

// asCall marks err, where there is one, as the caller's fault.
func asCall(err error) error {
	if err == nil {
		return nil
	}
	return &live.CallError{Err: err}
}

// blamer is an error that knows whose fault it is.
type blamer interface {
	error
	CallersFault() bool
}

// statusOf returns the exit status for err.
func statusOf(err error) int {
	if err == nil {
		return statusDone
	}
	if _, ok := errors.AsType[*live.CallError](err); ok {
		return statusBadCall
	}
	if b, ok := errors.AsType[blamer](err); ok && b.CallersFault() {
		return statusBadCall
	}
	return statusFailed
}

// readerLeft tells that a program on Windows which read the output wants no more, as in
// evenbeat going | more. Other systems end the writer for it without a word.
func readerLeft(system string, err error) bool {
	e, ok := errors.AsType[*fs.PathError](err)
	if !ok || system != "windows" || e.Path != os.Stdout.Name() {
		return false
	}
	no, _ := e.Err.(syscall.Errno)
	return no == 109 || no == 232 || no == 233 // broken, closing and not connected
}

// asFlag is flagError for a value that was checked as part of what is recorded: its name
// there may be another than the flag's.
func asFlag(err error) error {
	e, ok := errors.AsType[*quantity.InputError](err)
	switch {
	case !ok:
		return err
	case e.Name == "time":
		return flagError("at", err)
	}
	return flagError(e.Name, err)
}

// flagError marks the refusal of a flag's value as the caller's fault, and names the
// flag; nil stays nil.
func flagError(name string, err error) error {
	if err == nil {
		return nil
	}
	if e, ok := errors.AsType[*quantity.InputError](err); ok {
		return badCall("--%s %s: %s", name, cmp.Or(e.Value, `""`), e.Why)
	}
	return badCall("--%s: %w", name, err)
}
