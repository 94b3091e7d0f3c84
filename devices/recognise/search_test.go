//go:build unix

package recognise_test

import (
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/creack/pty"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/devices/recognise"
)

// plug returns an instrument's end of a pseudo-terminal and the name of the other.
func plug(t *testing.T) (*os.File, string) {
	t.Helper()
	master, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		master.Close()
		tty.Close()
	})
	return master, tty.Name()
}

// bench is a search with real ports; opened hears of each that is opened.
type bench struct{ recognise.Search }

func newBench(opened func(name string, s port.Settings)) *bench {
	b := &bench{}
	b.Settings = recognise.Ways(port.Settings{})
	now := port.HostClock()
	b.Open = func(name string, s port.Settings) (recognise.Line, error) {
		l, err := port.Open(name, port.Options{Settings: s, Now: now})
		if err == nil {
			opened(name, s)
		}
		return l, err
	}
	return b
}

func (b *bench) open(t *testing.T, name string) recognise.Line {
	t.Helper()
	l, err := b.Open(name, b.Settings[0])
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func send(t *testing.T, w io.Writer, text string) {
	t.Helper()
	if _, err := io.WriteString(w, text); err != nil {
		t.Error(err)
	}
}

// texts reads want things from an instrument that was recognised.
func texts(t *testing.T, h *recognise.Heard, want int) (got []string) {
	t.Helper()
	d, err := formats.New(h.Format, quantity.NoUnit)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	err = h.Run(ctx, func(c devices.Chunk) error {
		for _, s := range d.Decode(nil, c) {
			if got = append(got, s.Text); len(got) >= want {
				stop()
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	return got
}

// At the first settings the instrument gives garbage; when the port is opened at
// the next it speaks. What it says before it is recognised and after comes in
// order, behind what was noise.
func TestSearchLosesNothing(t *testing.T) {
	master, name := plug(t)
	lines := []string{"63.48mm", "63.51mm", "63.49mm", "0.45mm", "0.46mm"}
	b := newBench(func(_ string, s port.Settings) {
		if s.Baud == 9600 {
			send(t, master, "\x00\x80\xf8\x00\xe0\x80\x1c\x00\xf8\x80\xe0\x00")
		} else {
			send(t, master, strings.Join(lines, "\r\n")+"\r\n")
		}
	})
	h, err := b.At(t.Context(), b.open(t, name))
	if err != nil {
		t.Fatal(err)
	}
	if h.Format != "text-length" || h.Settings.Baud != 115200 || h.NeedsUnit {
		t.Errorf("got %+v, want text-length with its unit at 115200 baud", h)
	}
	got := texts(t, h, 1+len(lines))
	if !strings.HasSuffix(got[0], `\xe0\x00": noise at 9600 baud, parity none`) || strings.Join(got[1:], " ") != strings.Join(lines, " ") {
		t.Errorf("got %q, want the noise and %q", got, lines)
	}
}

// What is expected is believed at its first line; another instrument isn't.
func TestSearchExpects(t *testing.T) {
	master, name := plug(t)
	b := newBench(func(string, port.Settings) { send(t, master, "63.48mm\r\n") })
	b.Tell = func(_ string, _ port.Settings, f recognise.Finding) {
		if f.State != recognise.Found || string(f.Heard) != "63.48mm\r\n" {
			t.Errorf("told of %+v", f)
		}
	}
	b.Expect = "text-length"
	h, err := b.At(t.Context(), b.open(t, name))
	if err != nil {
		t.Fatal(err)
	}
	if got := texts(t, h, 1); got[0] != "63.48mm" {
		t.Errorf("got %q", got)
	}

	b = newBench(func(string, port.Settings) { send(t, master, "1204311\r\n1704311\r\n2204311\r\n2704311\r\n") })
	b.Expect, b.Wanted = "text-length", func(format string) bool { return format == "text-length" }
	_, err = b.At(t.Context(), b.open(t, name))
	if u, ok := errors.AsType[*recognise.UnwantedError](err); !ok || u.Format != "count-lines" {
		t.Errorf("got %v, want it to tell of count-lines", err)
	}
	if l, err := b.Open(name, b.Settings[0]); err != nil {
		t.Errorf("the port was not let go: %v", err)
	} else if _, err := b.At(t.Context(), l); err == nil {
		t.Error("want it unwanted again")
	}
}

// A flipped bit shows by the parity, though the port itself is set to 8 bits.
func TestParityIsChecked(t *testing.T) {
	master, name := plug(t)
	good := withParity("63.48mm\r\n63.51mm\r\n63.49mm\r\n", "even")
	bad := []byte(withParity("63.48mm\r\n", "even"))
	bad[1] ^= 4 // 3 becomes 7
	b := newBench(func(string, port.Settings) { send(t, master, good) })
	h, err := b.At(t.Context(), b.open(t, name))
	if err != nil {
		t.Fatal(err)
	}
	if h.Settings.DataBits != 7 || h.Settings.Parity != "even" {
		t.Errorf("got %+v, want 7 bits, even", h.Settings)
	}
	send(t, master, string(bad))
	if got := texts(t, h, 4); got[2] != "63.49mm" || !strings.HasPrefix(got[3], `"6\xb78mm`) && !strings.HasPrefix(got[3], `"6\xb7.48mm`) {
		t.Errorf("got %q, want the damaged line refused", got)
	}
}

// Of several ports the one that speaks wins, though another hears noise.
func TestFirstOfSeveral(t *testing.T) {
	_, silentName := plug(t)
	loud, loudName := plug(t)
	speaks, speaksName := plug(t)
	b := newBench(func(name string, s port.Settings) {
		switch {
		case name == loudName && s.Baud == 9600:
			send(t, loud, "\xff\xfe\x80\x00\xf8\x00\xe0\x80\x1c\x00")
		case name == speaksName:
			send(t, speaks, "FFFF000634820\r\nFFFF000635120\r\n")
		}
	})
	lines := []recognise.Line{b.open(t, silentName), b.open(t, loudName), b.open(t, speaksName)}
	h, err := b.First(t.Context(), lines, func(err error) { t.Errorf("passed over: %v", err) })
	if err != nil {
		t.Fatal(err)
	}
	if h.Port != speaksName || h.Format != "digits52-hex" {
		t.Errorf("got %s at %s, want digits52-hex at %s", h.Format, h.Port, speaksName)
	}
	if got := texts(t, h, 2); len(got) != 2 {
		t.Errorf("got %q, want both readings", got)
	}
	l, err := port.Open(silentName, port.Options{})
	if err != nil {
		t.Fatalf("a port that lost was not let go: %v", err)
	}
	ended, stop := context.WithCancel(t.Context())
	stop()
	if err := l.Run(ended, func(devices.Chunk) error { return nil }); err != nil {
		t.Error(err)
	}
}

// When the search ends with bytes that nothing was made of, they are taken for what
// is expected: none is dropped.
func TestSearchEnds(t *testing.T) {
	master, name := plug(t)
	ctx, stop := context.WithCancel(t.Context())
	b := newBench(func(string, port.Settings) { send(t, master, "1204311\r\n1704298\r\n") })
	b.Expect = "count-lines"
	got := ""
	l := b.open(t, name)
	h, err := b.At(ctx, lineFunc{l, func(c devices.Chunk) {
		if got += string(c.Bytes); strings.Count(got, "\n") == 2 {
			stop()
		}
	}})
	if err != nil || h == nil {
		t.Fatalf("got %v, %v", h, err)
	}
	if got := texts(t, h, 2); len(got) != 2 || h.Format != "count-lines" || h.Bits != 0 {
		t.Errorf("got %+v and %q, want two beats, taken for granted", h, got)
	}
}

// lineFunc is a line whose chunks are looked at in passing.
type lineFunc struct {
	recognise.Line
	look func(devices.Chunk)
}

func (l lineFunc) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return l.Line.Run(ctx, func(c devices.Chunk) error {
		l.look(c)
		return deliver(c)
	})
}
