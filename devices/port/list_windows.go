package port

import (
	"slices"

	"go.bug.st/serial"
	"go.bug.st/serial/enumerator"
)

// List returns the serial ports of this computer. Not every driver's are of the class of
// ports, which tells of the device behind them; every driver enters its own in the registry.
func List() ([]Info, error) {
	ports, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return nil, err
	}
	var list []Info
	for _, p := range ports {
		i := Info{Name: p.Name}
		if p.IsUSB {
			i.USB = USB{Vendor: p.VID, Product: p.PID, Serial: p.SerialNumber, Text: p.Product}
		}
		list = append(list, i)
	}
	names, err := serial.GetPortsList()
	if err != nil {
		return nil, err
	}
	for _, n := range names {
		if !slices.ContainsFunc(list, func(i Info) bool { return i.Name == n }) {
			list = append(list, Info{Name: n})
		}
	}
	return list, nil
}
