package stability

import "fmt"

// InputError names an input that can't be used, its value and what to do.
type InputError struct {
	Name   string
	Value  string
	Remedy string
}

// Error returns "interval 0 s: give the time …".
func (e *InputError) Error() string { return fmt.Sprintf("%s %s: %s", e.Name, e.Value, e.Remedy) }
