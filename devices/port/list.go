package port

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Info is a serial port of this computer.
type Info struct {
	Name  string // as Open takes it
	USB   USB    // zero for ports that aren't on USB, or if the system doesn't say
	Given bool   // the system lists no such port, the settings do
	Gone  bool   // and it isn't there
}

// Given returns a port that the system doesn't list. It isn't opened.
func Given(name string) Info {
	i := Info{Name: name, Given: true}
	if filepath.IsAbs(name) { // the bare names of Windows are of no file
		_, err := os.Stat(name)
		i.Gone = errors.Is(err, fs.ErrNotExist)
	}
	return i
}

// Identity says how the port is recognised when it is plugged in elsewhere.
func (i Info) Identity() string {
	switch {
	case i.Gone:
		return "from the settings, but not there now"
	case i.Given:
		return "from the settings"
	case !i.USB.Known():
		return "no USB identity, known by name only"
	}
	s := "USB " + i.USB.Vendor + ":" + i.USB.Product
	for _, part := range [][2]string{{"serial number ", i.USB.Serial}, {"at ", i.USB.Place}, {"", i.USB.Text}} {
		if part[1] != "" {
			s += ", " + part[0] + part[1]
		}
	}
	return s
}

// USB identifies an instrument on USB, whatever name the system gives its port.
type USB struct {
	Vendor, Product string // four hex digits each
	Serial          string // "" for devices without one
	Interface       string // two hex digits, since a device may have several ports
	Place           string // bus and sockets, such as 1-1.4
	Text            string // what the device calls itself
}

// Known reports whether the port is known to be on USB.
func (u USB) Known() bool { return u.Vendor != "" }

// Same reports whether u and v are one instrument. Two of a kind without serial
// numbers differ by where they are plugged in.
func (u USB) Same(v USB) bool {
	if !u.Known() || u.Vendor != v.Vendor || u.Product != v.Product || u.Serial != v.Serial || u.Interface != v.Interface {
		return false
	}
	return u.Serial != "" || u.Place == v.Place
}
