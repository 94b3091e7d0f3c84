// Package formats knows every wire format by its name.
package formats

import (
	"fmt"
	"maps"
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

// Options are what a decoder must be told of the instrument.
type Options struct {
	Unit quantity.Unit // for lengths whose unit isn't sent
}

// table holds a line for each wire format: a new one is a file beside its fellows
// and a line here.
func table() map[string]func(Options) devices.Decoder {
	return map[string]func(Options) devices.Decoder{
		"air-text":       func(Options) devices.Decoder { return new(air.AirText) },
		"bits24-hex":     func(Options) devices.Decoder { return new(caliper.Bits24Hex) },
		"bits24-raw":     func(Options) devices.Decoder { return new(caliper.Bits24Raw) },
		"byte-beats":     func(Options) devices.Decoder { return new(beat.ByteBeats) },
		"count-lines":    func(Options) devices.Decoder { return new(beat.CountLines) },
		"digits52-hex":   func(Options) devices.Decoder { return new(caliper.Digits52) },
		"edge-beats":     func(Options) devices.Decoder { return new(beat.EdgeBeats) },
		"interval-lines": func(Options) devices.Decoder { return new(beat.IntervalLines) },
		"nmea":           func(Options) devices.Decoder { return new(reference.NMEA) },
		"polled-length":  func(o Options) devices.Decoder { return &caliper.TextLength{Unit: o.Unit} },
		"text-force":     func(Options) devices.Decoder { return new(force.TextForce) },
		"text-length":    func(o Options) devices.Decoder { return &caliper.TextLength{Unit: o.Unit} },
		"utc-lines":      func(Options) devices.Decoder { return new(beat.UTCLines) },
	}
}

// New returns a decoder for the wire format of that name.
func New(name string, o Options) (devices.Decoder, error) {
	construct, ok := table()[name]
	if !ok {
		return nil, fmt.Errorf("wire format %q is not known: use one of %s", name, strings.Join(Names(), ", "))
	}
	return construct(o), nil
}

// Names returns the names of the wire formats, sorted.
func Names() []string { return slices.Sorted(maps.Keys(table())) }
