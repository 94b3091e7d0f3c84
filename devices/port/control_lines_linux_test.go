package port

import (
	"errors"
	"testing"
	"unsafe"

	"golang.org/x/sys/unix"
)

// The kernel writes 80 bytes, wherever it is told to.
func TestLineCountsAreTheKernels(t *testing.T) {
	if n := unsafe.Sizeof(lineCounts{}); n != 80 {
		t.Errorf("%d bytes", n)
	}
}

func TestNoWakerOfAPseudoTerminal(t *testing.T) {
	d, err := open("test", plugIn(t).name, Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	if w, err := d.Waker(); !errors.Is(err, unix.ENOTTY) {
		t.Errorf("got %v, %v", w, err)
	}
	if err := d.Close(); err != nil {
		t.Error(err)
	}
}
