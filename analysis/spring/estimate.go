package spring

import (
	"encoding/json"
	"strings"

	"evenbeat/devices/quantity"
)

// Bound says on which side of an estimate the truth lies.
type Bound string

// The bounds. Without one the truth lies in the interval.
const (
	AtLeast Bound = "at least"
	AtMost  Bound = "at most"
)

// Estimate is a value that may be no more than a bound of the truth. Its interval is then
// that of the bound itself.
type Estimate struct {
	quantity.Value
	Bound Bound
}

// MarshalJSON writes the value, and the bound after it.
func (e Estimate) MarshalJSON() ([]byte, error) {
	b, err := json.Marshal(e.Value)
	if err != nil || e.Bound == "" {
		return b, err
	}
	return append(b[:len(b)-1], `,"bound":"`+string(e.Bound)+`"}`...), nil
}

// Text is Value.Text behind its bound.
func (e Estimate) Text(unit string) string {
	return strings.TrimSpace(string(e.Bound) + " " + e.Value.Text(unit))
}

// Full is Value.Full behind its bound.
func (e Estimate) Full(unit string) string {
	return strings.TrimSpace(string(e.Bound) + " " + e.Value.Full(unit))
}

// bounded returns the value with its bound; nil for no value.
func bounded(v *quantity.Value, b Bound) *Estimate {
	if v == nil {
		return nil
	}
	return &Estimate{*v, b}
}
