package port

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"go.bug.st/serial"
)

// Kind is why a port couldn't be used.
type Kind uint8

// The kinds.
const (
	NoSuchPort  Kind = iota + 1 // nothing of that name
	NotSerial                   // the name is of something that is no serial port
	Denied                      // the system doesn't let this user open it
	Busy                        // another program, or another part of this one, holds it
	BadSettings                 // the port has no such settings
	Gone                        // it was there and went away
	Failed                      // anything else; Err says what
)

// Error is a port that couldn't be used, and what can be done about it.
type Error struct {
	Port   string
	Kind   Kind
	Remedy string
	Err    error // the cause, if it says more
}

// problems says in words what each kind is.
func problems() map[Kind]string {
	return map[Kind]string{NoSuchPort: "no such port", NotSerial: "is no serial port", Denied: "not allowed to open it",
		Busy: "in use", BadSettings: "does not take these settings", Gone: "went away", Failed: "failed"}
}

// Error names the port, what is wrong, and the remedy.
func (e *Error) Error() string {
	s := "port " + e.Port + ": " + problems()[e.Kind]
	if e.Err != nil {
		s += " (" + e.Err.Error() + ")"
	}
	if e.Remedy != "" {
		s += ": " + e.Remedy
	}
	return s
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// CallersFault reports whether another call would have succeeded: with another name or
// other settings, or once the other program has released the port.
func (e *Error) CallersFault() bool {
	return e.Kind != Gone && e.Kind != Failed
}

// thereAre names the ports that there are, those among them that are given.
func thereAre(given []string) string {
	list, _ := List() // what can't be listed is not named
	for _, name := range given {
		list = append(list, Given(name))
	}
	var names []string
	for _, i := range list {
		if !i.Gone && !slices.Contains(names, i.Name) {
			names = append(names, i.Name)
		}
	}
	if len(names) == 0 {
		return "no serial port was found: is the instrument plugged in and switched on?"
	}
	return "use one of " + strings.Join(names, ", ")
}

func busy(name, path string) *Error {
	e := &Error{Port: name, Kind: Busy, Remedy: "close the program that uses it, or choose another port"}
	if h := holders(path); h != "" {
		e.Remedy = "held by " + h + "; end that first, or choose another port"
	}
	return e
}

// errNotDevice is the cause for a name that is of a file or folder.
var errNotDevice = errors.New("not a device")

// classify turns an error of opening into an *Error.
func classify(name, path string, err error) *Error {
	code := serial.PortErrorCode(-1)
	if pe, ok := errors.AsType[*serial.PortError](err); ok {
		code = pe.Code()
	}
	switch {
	case errors.Is(err, fs.ErrNotExist) || code == serial.PortNotFound:
		return &Error{Port: name, Kind: NoSuchPort}
	case errors.Is(err, fs.ErrPermission) || code == serial.PermissionDenied:
		return &Error{Port: name, Kind: Denied, Remedy: deniedRemedy(name)}
	case code == serial.PortBusy || isBusy(err):
		return busy(name, path)
	case code == serial.InvalidSpeed || code == serial.InvalidDataBits ||
		code == serial.InvalidParity || code == serial.InvalidStopBits:
		return badSettings(name, err)
	case code == serial.InvalidSerialPort || errors.Is(err, errNotDevice):
		return &Error{Port: name, Kind: NotSerial, Err: err}
	}
	return &Error{Port: name, Kind: Failed, Err: err}
}

func badSettings(name string, err error) *Error {
	return &Error{Port: name, Kind: BadSettings, Err: err, Remedy: "change the instrument's profile"}
}

func stepText(jump fmt.Stringer) string {
	return fmt.Sprintf("the host's clock moved by %v against its steady time: it was set, or the computer slept", jump)
}
