package port

import (
	"cmp"
	"fmt"
	"time"

	"go.bug.st/serial"
)

// Settings are how a port must be set for an instrument. The zero value is 9600
// baud, 8 data bits, no parity, 1 stop bit, with DTR and RTS as the system leaves them
// and no request.
type Settings struct {
	Baud     int     // 300 to 921600; 0 = 9600
	DataBits int     // 7 or 8; 0 = 8
	Parity   string  // none, odd, even, mark or space; "" = none
	StopBits float64 // 1, 1.5 or 2; 0 = 1. Unix systems have no 1.5.
	// DTR and RTS are set after opening, for interfaces that draw power from them; nil
	// leaves the line alone.
	DTR, RTS *bool
	// Request is what the instrument must be sent before it answers, at most 64
	// bytes. It is sent at every Ask, and every RequestEvery if that isn't zero.
	Request      []byte
	RequestEvery time.Duration
}

const (
	defaultBaud  = 9600
	maxRequest   = 64
	shortestPoll = 20 * time.Millisecond
)

// Check returns an error that names the first setting that no port has.
func (s Settings) Check() error {
	if s.Baud != 0 && (s.Baud < 300 || s.Baud > 921600) {
		return fmt.Errorf("baud %d: must be from 300 to 921600", s.Baud)
	}
	if s.DataBits != 0 && s.DataBits != 7 && s.DataBits != 8 {
		return fmt.Errorf("data bits %d: must be 7 or 8", s.DataBits)
	}
	if _, ok := parities()[s.Parity]; !ok {
		return fmt.Errorf("parity %q: must be none, odd, even, mark or space", s.Parity)
	}
	if _, ok := stopBits()[s.StopBits]; !ok {
		return fmt.Errorf("stop bits %g: must be 1, 1.5 or 2", s.StopBits)
	}
	if len(s.Request) > maxRequest {
		return fmt.Errorf("request of %d bytes: must be %d at most", len(s.Request), maxRequest)
	}
	if s.RequestEvery != 0 && s.RequestEvery < shortestPoll {
		return fmt.Errorf("request every %v: must be %v at least", s.RequestEvery, shortestPoll)
	}
	return nil
}

// mode returns the settings, which are checked, as the serial library wants them.
func (s Settings) mode() *serial.Mode {
	return &serial.Mode{BaudRate: cmp.Or(s.Baud, defaultBaud), DataBits: cmp.Or(s.DataBits, 8),
		Parity: parities()[s.Parity], StopBits: stopBits()[s.StopBits]}
}

func parities() map[string]serial.Parity {
	return map[string]serial.Parity{"": serial.NoParity, "none": serial.NoParity, "odd": serial.OddParity,
		"even": serial.EvenParity, "mark": serial.MarkParity, "space": serial.SpaceParity}
}

func stopBits() map[float64]serial.StopBits {
	return map[float64]serial.StopBits{0: serial.OneStopBit, 1: serial.OneStopBit, 1.5: serial.OnePointFiveStopBits,
		2: serial.TwoStopBits}
}
