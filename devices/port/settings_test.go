package port

import (
	"strings"
	"testing"
	"time"

	"go.bug.st/serial"
)

func TestSettingsCheck(t *testing.T) {
	for _, c := range []struct {
		name string
		s    Settings
		want string // "" = no error
	}{
		{"zero", Settings{}, ""},
		{"slowest", Settings{Baud: 300, DataBits: 7, Parity: "even", StopBits: 2}, ""},
		{"fastest", Settings{Baud: 921600, DataBits: 8, Parity: "mark", StopBits: 1.5}, ""},
		{"asks", Settings{Request: []byte("?\r"), RequestEvery: time.Second}, ""},
		{"baud below", Settings{Baud: -1}, "baud -1: must be from 300 to 921600"},
		{"baud above", Settings{Baud: 1000000}, "baud 1000000: must be"},
		{"bits", Settings{DataBits: 9}, "data bits 9: must be 7 or 8"},
		{"parity", Settings{Parity: "uneven"}, `parity "uneven": must be none, odd`},
		{"stop", Settings{StopBits: 3}, "stop bits 3: must be 1, 1.5 or 2"},
		{"long request", Settings{Request: make([]byte, 65)}, "request of 65 bytes: must be 64 at most"},
		{"hasty", Settings{RequestEvery: time.Millisecond}, "request every 1ms: must be 20ms at least"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.s.Check()
			if (err == nil) != (c.want == "") || err != nil && !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("got %v, want %q", err, c.want)
			}
		})
	}
}

func TestSettingsMode(t *testing.T) {
	if got, want := *(Settings{}).mode(), (serial.Mode{BaudRate: 9600, DataBits: 8}); got != want {
		t.Errorf("zero settings are %+v, want %+v", got, want)
	}
	got := *Settings{Baud: 4800, DataBits: 7, Parity: "odd", StopBits: 2}.mode()
	if want := (serial.Mode{BaudRate: 4800, DataBits: 7, Parity: serial.OddParity, StopBits: serial.TwoStopBits}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}
