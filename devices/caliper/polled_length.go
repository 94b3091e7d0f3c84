package caliper

import "evenbeat/devices"

// PolledLength describes the lines of text-length, sent by an instrument that only
// answers. What it must be asked differs: a carriage return is common practice, no
// source. It can't be recognised, since it is silent until it is asked.
func PolledLength() devices.Format {
	return devices.Format{
		Name: "polled-length", Title: "length as text, when asked", Instrument: "indicator",
		New:     newTextLength,
		Request: "\r", RequestEveryS: 0.5,
		LimitOutsideMM: limitOutsideMM, LimitInsideMM: limitInsideMM,
	}
}
