//go:build !linux && !windows

package port

import "go.bug.st/serial"

// List returns the serial ports of this computer, without what is plugged into them:
// the library needs a C compiler for that here.
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
