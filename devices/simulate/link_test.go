//go:build unix

package simulate

import (
	"errors"
	"io"
	"os"
	"testing"

	"golang.org/x/sys/unix"
)

// pair makes a link that must be a real pseudo-terminal, and opens its far side
// as a program would.
func pair(t *testing.T) (*Link, *os.File) {
	t.Helper()
	l, err := Pair()
	if err != nil {
		t.Fatal(err)
	}
	if l.Name == "" {
		t.Fatal("no pseudo-terminal on this system")
	}
	far, err := os.OpenFile(l.Name, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	closing(t, far)
	return l, far
}

// closing closes c when the test ends, unless the test did.
func closing(t *testing.T, c io.Closer) {
	t.Cleanup(func() {
		if err := c.Close(); err != nil && !errors.Is(err, os.ErrClosed) {
			t.Error(err)
		}
	})
}

func TestBytesBeforeTheOpenComeRaw(t *testing.T) {
	l, err := Pair()
	if err != nil {
		t.Fatal(err)
	}
	closing(t, l)
	const sent = "1.00mm\r\n\x03\x04\x11\x13\xff"
	if _, err := l.Instrument.Write([]byte(sent)); err != nil {
		t.Fatal(err)
	}
	far, err := os.OpenFile(l.Name, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	closing(t, far)
	got := make([]byte, len(sent))
	if _, err := io.ReadFull(far, got); err != nil || string(got) != sent {
		t.Errorf("got %q, %v, want %q", got, err, sent)
	}
}

func TestReaderMayComeAndGo(t *testing.T) {
	l, far := pair(t)
	closing(t, l)
	if err := far.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := l.Instrument.Write([]byte("2.00mm\r\n")); err != nil {
		t.Fatalf("nobody has the port open: %v", err)
	}
	again, err := os.OpenFile(l.Name, os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	closing(t, again)
	got := make([]byte, 8)
	if _, err := io.ReadFull(again, got); err != nil || string(got) != "2.00mm\r\n" {
		t.Errorf("got %q, %v", got, err)
	}
}

func TestCloseIsAPulledPlug(t *testing.T) {
	l, far := pair(t)
	gone := make(chan error, 1)
	go func() {
		_, err := far.Read(make([]byte, 8))
		gone <- err
	}()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	if err := <-gone; err == nil {
		t.Error("the reader saw no end")
	}
}
