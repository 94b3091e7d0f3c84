package live

import (
	"errors"
	"fmt"
	"runtime/debug"
)

// PanicError is a fault of the program itself: a panic, and where it was.
type PanicError struct {
	Value any
	Stack []byte
}

func (e *PanicError) Error() string { return fmt.Sprint(e.Value) }

// Caught joins a panic of the function that defers it to that function's error, so that
// what was recorded until then is kept and the terminal is left as it was.
func Caught(err *error) {
	if v := recover(); v != nil {
		*err = errors.Join(*err, &PanicError{v, debug.Stack()})
	}
}
