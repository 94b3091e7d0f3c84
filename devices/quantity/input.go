package quantity

// InputError tells of a value that no measurement or clock could give. It is the
// caller's to mend, wherever in the program it was noticed.
type InputError struct {
	Name  string // what it is: bore, interval, beats an hour
	Value string // as written for a reader, with its unit; "" where there is none
	Why   string // what it must be, or what to do
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
