// Package formats knows every wire format by its name.
package formats

import (
	"fmt"
	"slices"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/air"
	"evenbeat/devices/beat"
	"evenbeat/devices/caliper"
	"evenbeat/devices/force"
	"evenbeat/devices/quantity"
	"evenbeat/devices/reference"
)

// All returns the wire formats. A new one is a file beside its fellows and a line
// here.
func All() []devices.Format {
	return []devices.Format{
		air.AirText(),
		beat.ByteBeats(),
		beat.CountLines(),
		beat.EdgeBeats(),
		beat.IntervalLines(),
		beat.UTCLines(),
		caliper.Bits24Hex(),
		caliper.Bits24Raw(),
		caliper.Digits52Hex(),
		caliper.PolledLength(),
		caliper.TextLength(),
		force.TextForce(),
		reference.NMEA(),
	}
}

// Named returns the wire format of that name; the error names those there are.
func Named(name string) (devices.Format, error) {
	all := All()
	var names []string
	for _, f := range all {
		if f.Name == name {
			return f, nil
		}
		names = append(names, f.Name)
	}
	slices.Sort(names)
	return devices.Format{}, fmt.Errorf("wire format %q is not known: use one of %s", name, strings.Join(names, ", "))
}

// New returns a decoder for the wire format of that name. The unit is for lengths
// that arrive without one.
func New(name string, unit quantity.Unit) (devices.Decoder, error) {
	f, err := Named(name)
	if err != nil {
		return nil, err
	}
	return f.New(unit), nil
}
