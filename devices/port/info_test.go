package port

import "testing"

func TestIdentity(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		info Info
		want string
	}{
		{Info{Name: "/dev/ttyS0"}, "no USB identity, known by name only"},
		{Info{Name: "/dev/ttyUSB0", USB: USB{Vendor: "1234", Product: "abcd", Place: "1-4"}}, "USB 1234:abcd, at 1-4"},
		{Info{Name: "/dev/ttyUSB0", USB: USB{Vendor: "1234", Product: "abcd", Serial: "A7", Place: "1-4", Text: "Serial adaptor"}}, "USB 1234:abcd, serial number A7, at 1-4, Serial adaptor"},
	} {
		if got := c.info.Identity(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.info, got, c.want)
		}
	}
}
