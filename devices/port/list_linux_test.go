package port

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// The tree is laid out as the kernel's, with two adapters of one kind without
// serial numbers, a device with two ports, one UART that is there and one that isn't.
func TestListReadsTheKernelsTree(t *testing.T) {
	root := t.TempDir()
	write := func(path, text string) {
		t.Helper()
		path = filepath.Join(root, path)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	port := func(name, device string) {
		t.Helper()
		write("sys/class/tty/"+name+"/dev", "1:1")
		if device == "" {
			return
		}
		write(device+"/uevent", "")
		if err := os.Symlink(filepath.Join(root, device), filepath.Join(root, "sys/class/tty", name, "device")); err != nil {
			t.Fatal(err)
		}
	}
	for _, d := range []struct{ place, serial string }{{"1-1", ""}, {"1-2", ""}, {"2-1.4", "A7"}} {
		dir := "sys/devices/usb/" + d.place
		write(dir+"/idVendor", "12ab")
		write(dir+"/idProduct", "0001")
		write(dir+"/product", "Invented adapter")
		if d.serial != "" {
			write(dir+"/serial", d.serial)
		}
	}
	write("sys/devices/usb/1-1/1-1:1.0/bInterfaceNumber", "00")
	write("sys/devices/usb/1-2/1-2:1.0/bInterfaceNumber", "00")
	write("sys/devices/usb/2-1.4/2-1.4:1.2/bInterfaceNumber", "02")
	port("ttyUSB0", "sys/devices/usb/1-1/1-1:1.0/ttyUSB0")
	port("ttyUSB1", "sys/devices/usb/1-2/1-2:1.0/ttyUSB1")
	port("ttyACM0", "sys/devices/usb/2-1.4/2-1.4:1.2")
	port("tty0", "")
	port("ttyS0", "sys/devices/platform/serial0")
	write("sys/class/tty/ttyS0/type", "4")
	port("ttyS1", "sys/devices/platform/serial1")
	write("sys/class/tty/ttyS1/type", "0")

	got, err := listTree(root)
	if err != nil {
		t.Fatal(err)
	}
	one := USB{Vendor: "12ab", Product: "0001", Interface: "00", Place: "1-1", Text: "Invented adapter"}
	two, third := one, one
	two.Place = "1-2"
	third.Place, third.Serial, third.Interface = "2-1.4", "A7", "02"
	want := []Info{{Name: "/dev/ttyACM0", USB: third}, {Name: "/dev/ttyS0"}, {Name: "/dev/ttyUSB0", USB: one}, {Name: "/dev/ttyUSB1", USB: two}}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("want -, got +\n%s", d)
	}

	elsewhere := third
	elsewhere.Place = "1-3"
	for _, c := range []struct {
		name string
		a, b USB
		want bool
	}{
		{"itself", one, one, true},
		{"another socket without serial number", one, two, false},
		{"another socket with one", third, elsewhere, true},
		{"not on USB", USB{}, USB{}, false},
	} {
		if got := c.a.Same(c.b); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestListOfNoTree(t *testing.T) {
	if got, err := listTree(t.TempDir()); err != nil || len(got) != 0 {
		t.Errorf("got %v, %v, want none", got, err)
	}
}
