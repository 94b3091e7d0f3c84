package caliper

import (
	"evenbeat/devices"
	"evenbeat/devices/quantity"
)

// PolledLengthFormat describes the lines of TextLength, sent by an instrument that
// only answers. What it must be asked differs: a carriage return is common practice,
// no source. It can't be recognised, since an instrument that isn't asked is silent.
func PolledLengthFormat() devices.Format {
	return devices.Format{
		Name: "polled-length", Title: "length as text, when asked", Instrument: "indicator",
		New:     func(unit quantity.Unit) devices.Decoder { return &TextLength{Unit: unit} },
		Request: "\r", RequestEveryS: 0.5,
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
	}
}
