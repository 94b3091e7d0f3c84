package quantity

import "fmt"

// InputError reports a value that no measurement or clock could give. Only the caller
// can mend it, wherever in the program it was noticed.
type InputError struct {
	Name  string // what it is: bore, interval, beats an hour
	Value string // as written for a reader, with its unit; "" where there is none
	Why   string // what it must be, or what to do
}

// BadInput returns an *InputError. The value is written as fmt.Sprint does; "" stands
// for none.
func BadInput(name string, value any, why string) error {
	return &InputError{Name: name, Value: fmt.Sprint(value), Why: why}
}

// Error names thing, value and remedy.
func (e *InputError) Error() string {
	if e.Value == "" {
		return e.Name + ": " + e.Why
	}
	return e.Name + " " + e.Value + ": " + e.Why
}

// CallersFault reports that another value would have done.
func (e *InputError) CallersFault() bool { return true }
