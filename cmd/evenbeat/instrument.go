package main

import (
	"fmt"
	"time"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
)

// instrument is a profile made ready for work: how to set its port and how to
// read its bytes.
type instrument struct {
	profile  configs.Profile
	settings port.Settings
	decoder  devices.Decoder
}

// instrument makes the profile of that name ready. The error names those there are.
func (a *app) instrument(name string) (instrument, error) {
	p, err := a.loaded.Profile(name)
	if err != nil {
		return instrument{}, asCall(err)
	}
	unit, _ := quantity.ParseUnit(p.Unit)
	d, err := formats.New(p.Format, unit)
	if err != nil {
		return instrument{}, badCall("profile %s: %w", p.Name, err)
	}
	s := port.Settings{
		Baud: p.Baud, DataBits: p.Bits, Parity: p.Parity, StopBits: p.Stop, DTR: p.DTR, RTS: p.RTS,
		Request: []byte(p.Request), RequestEvery: time.Duration(p.RequestEveryS * float64(time.Second)),
	}
	return instrument{p, s, d}, nil
}

// limit returns the instrument's limit of error for a kind of step, in metres.
func (i instrument) limit(kind string) float64 {
	if kind == configs.StepInside || kind == configs.StepDepth {
		return i.profile.LimitInsideMM * 1e-3
	}
	return i.profile.LimitOutsideMM * 1e-3
}

// onlyPort returns the port that auto means: the only one there is.
func onlyPort() (string, error) {
	all, err := port.List()
	if err != nil {
		return "", fmt.Errorf("listing serial ports: %w", err)
	}
	switch len(all) {
	case 0:
		return "", badCall("--port auto: this computer has no serial port: plug the instrument in, or name its port")
	case 1:
		return all[0].Name, nil
	}
	names := ""
	for _, p := range all {
		names += " " + p.Name
	}
	return "", badCall("--port auto: this computer has several ports: name one of%s", names)
}
