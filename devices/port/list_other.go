//go:build !linux && !windows

package port

import "go.bug.st/serial"

// List returns the serial ports of this computer. What hangs on them isn't told:
// the library's own way of asking needs a C compiler here.
func List() ([]Info, error) {
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, err
	}
	var list []Info
	for _, n := range names {
		list = append(list, Info{Name: n})
	}
	return list, nil
}
