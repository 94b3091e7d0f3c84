// Package live runs sessions: it finds the instrument, measures to a plan or times a
// clock, and keeps what comes in the book. A session is a thing of its own. It tells
// any number of subscribers what happens and takes commands from all of them; a
// terminal is one face of it, a page in a browser may be another. It knows neither.
package live

import (
	"github.com/rs/zerolog"

	"evenbeat/configs"
	"evenbeat/devices/quantity"
)

// Bench is what sessions know of the workbench: the settings with the profiles and
// plans in them, and the unit of a length that names none (NoUnit: it is refused).
type Bench struct {
	configs.Loaded
	Unit quantity.Unit
	Log  zerolog.Logger
}

// CallError is the fault of whoever asked: a profile that doesn't exist, a port that
// isn't there.
type CallError struct{ Err error }

func (e *CallError) Error() string { return e.Err.Error() }
func (e *CallError) Unwrap() error { return e.Err }

// CallersFault reports that another call would have done.
func (e *CallError) CallersFault() bool { return true }
