package sessions

import (
	"strings"

	"evenbeat/devices/quantity"
)

// Amplitude is the dimension of a swing to one side of rest, in degrees. One is kept with a
// check of the dial.
const Amplitude = "amplitude"

// IsAmplitude tells whether a reading is of an amplitude, by whatever plan.
func (r Reading) IsAmplitude() bool { return strings.EqualFold(r.Dimension, Amplitude) }

// ReadAmplitude reads an amplitude that was typed: above 0 and at most 360 degrees, as
// quantity.ParseDegrees reads it; of no text a reading of 0. Clock and time are for the
// caller to add.
func ReadAmplitude(text string) (Reading, error) {
	if text == "" {
		return Reading{}, nil
	}
	n, err := quantity.ParseDegrees(text)
	return Reading{Part: "movement", Dimension: Amplitude, Kind: Count, Value: n.V, U: n.U, Rectangular: n.Rectangular,
		Text: text, Instrument: TypedInstrument, State: Kept}, err
}
