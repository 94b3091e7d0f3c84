package port

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// List returns the serial ports of this computer, by name. It opens none of them,
// which would disturb ports in use, but reads what the kernel says of them.
func List() ([]Info, error) { return listTree("/") }

// listTree is List for the tree at root, so that a test can lay out its own.
func listTree(root string) ([]Info, error) {
	class := filepath.Join(root, "sys/class/tty")
	entries, err := os.ReadDir(class)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var list []Info
	for _, e := range entries {
		dir := filepath.Join(class, e.Name())
		// Consoles and pseudo-terminals have no device behind them. A UART of type 0 is a
		// place on the board where none was found.
		device, err := filepath.EvalSymlinks(filepath.Join(dir, "device"))
		if err != nil || attr(dir, "type") == "0" {
			continue
		}
		list = append(list, Info{Name: "/dev/" + e.Name(), USB: usb(device)})
	}
	return list, nil
}

// usb goes up from a device to the USB device that it is part of.
func usb(device string) USB {
	var u USB
	for dir := device; len(dir) > 1; dir = filepath.Dir(dir) {
		if u.Interface == "" {
			u.Interface = attr(dir, "bInterfaceNumber")
		}
		if v := attr(dir, "idVendor"); v != "" {
			u.Vendor, u.Product, u.Serial = v, attr(dir, "idProduct"), attr(dir, "serial")
			u.Place = filepath.Base(dir)
			u.Text = strings.TrimSpace(attr(dir, "manufacturer") + " " + attr(dir, "product"))
			return u
		}
	}
	return USB{}
}

// attr returns an attribute of a device; "" where there is none.
func attr(dir, name string) string {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}
