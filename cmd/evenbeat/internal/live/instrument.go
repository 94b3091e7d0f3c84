package live

import (
	"fmt"
	"time"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Instrument is a profile made ready for work: how to set its port and how to read
// its bytes.
type Instrument struct {
	Profile  configs.Profile
	Settings port.Settings
	Decoder  devices.Decoder
}

// Instrument makes the profile of that name ready. The error is the caller's fault
// and names the profiles there are.
func (b Bench) Instrument(name string) (Instrument, error) {
	p, err := b.Profile(name)
	if err != nil {
		return Instrument{}, &CallError{err}
	}
	unit, _ := quantity.ParseUnit(p.Unit)
	d, err := formats.New(p.Format, unit)
	if err != nil {
		return Instrument{}, &CallError{fmt.Errorf("profile %s: %w", p.Name, err)}
	}
	s := port.Settings{
		Baud: p.Baud, DataBits: p.Bits, Parity: p.Parity, StopBits: p.Stop, DTR: p.DTR, RTS: p.RTS,
		Request: []byte(p.Request), RequestEvery: time.Duration(p.RequestEveryS * float64(time.Second)),
	}
	return Instrument{p, s, d}, nil
}

// limit returns the instrument's limit of error for a kind of step, in metres.
func (i Instrument) limit(k sessions.Kind) float64 {
	if k == sessions.Inside || k == sessions.Depth {
		return i.Profile.LimitInsideMM * 1e-3
	}
	return i.Profile.LimitOutsideMM * 1e-3
}
