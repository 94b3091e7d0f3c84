package main

import "testing"

func TestPortIdentity(t *testing.T) {
	for _, c := range []struct {
		line portLine
		want string
	}{
		{portLine{Name: "/dev/ttyS0"}, "no USB identity, known by name only"},
		{portLine{Name: "/dev/ttyUSB0", USB: "1234:abcd", Place: "1-4"}, "USB 1234:abcd, at 1-4"},
		{portLine{Name: "/dev/ttyUSB0", USB: "1234:abcd", Serial: "A7", Place: "1-4", Product: "Serial adaptor"}, "USB 1234:abcd, serial number A7, at 1-4, Serial adaptor"},
	} {
		if got := c.line.identity(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.line, got, c.want)
		}
	}
}
