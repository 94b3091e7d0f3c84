package port

import "go.bug.st/serial/enumerator"

// List returns the serial ports of this computer.
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
	return list, nil
}
