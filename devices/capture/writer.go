package capture

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"evenbeat/devices"
)

// clockSlack is how far the host's clock may drift from the last clock line before a
// new one is written, in nanoseconds.
const clockSlack = 1000

// Writer writes a capture.
type Writer struct {
	w      *bufio.Writer
	start  int64 // monotonic time of the first chunk
	last   int64
	offset int64 // UTC less monotonic time, by the last clock line
	begun  bool
}

// NewWriter returns a writer of captures. Once Flush returns nil, w has all that was
// written.
func NewWriter(w io.Writer) *Writer { return &Writer{w: bufio.NewWriter(w)} }

// Remark writes a remark, for people who read the file.
func (w *Writer) Remark(text string) error {
	for line := range strings.Lines(text) {
		if _, err := fmt.Fprintf(w.w, "# %s\n", strings.TrimRight(line, "\r\n")); err != nil {
			return err
		}
	}
	return nil
}

// Write writes a chunk. Chunks must come in order of their monotonic stamps.
func (w *Writer) Write(c devices.Chunk) error {
	if !w.begun {
		w.start, w.last = c.At.Mono, c.At.Mono
	}
	if c.At.Mono < w.last {
		return fmt.Errorf("chunk at %s s: is before the last, at %s s: they must come in order",
			seconds(c.At.Mono-w.start), seconds(w.last-w.start))
	}
	w.last = c.At.Mono
	at := "+" + seconds(c.At.Mono-w.start)
	offset := c.At.UTC - c.At.Mono
	if drift := offset - w.offset; !w.begun || drift > clockSlack || drift < -clockSlack {
		w.offset = offset
		if _, err := fmt.Fprintf(w.w, "@%s %s\n", at, time.Unix(0, c.At.UTC).UTC().Format(time.RFC3339Nano)); err != nil {
			return err
		}
	}
	w.begun = true
	_, err := fmt.Fprintf(w.w, "%s %s\n", at, body(c))
	return err
}

// Flush writes out what is buffered.
func (w *Writer) Flush() error { return w.w.Flush() }

func body(c devices.Chunk) string {
	switch {
	case c.Fault != "":
		return "!" + strings.ReplaceAll(string(c.Fault), " ", "-") + " " + strconv.Quote(c.Text)
	case c.Changed != 0:
		return "^" + pinNames(c.Changed) + " " + pinNames(c.Pins)
	}
	return strconv.Quote(string(c.Bytes))
}

// seconds writes nanoseconds as seconds, without needless zeros.
func seconds(ns int64) string {
	s := fmt.Sprintf("%d.%09d", ns/1e9, ns%1e9)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// pins are the control lines in the order in which they are written.
func pins() []struct {
	pin  devices.Pins
	name string
} {
	return []struct {
		pin  devices.Pins
		name string
	}{{devices.PinCTS, "cts"}, {devices.PinDSR, "dsr"}, {devices.PinDCD, "dcd"}, {devices.PinRI, "ri"}}
}

func pinNames(p devices.Pins) string {
	var names []string
	for _, n := range pins() {
		if p&n.pin != 0 {
			names = append(names, n.name)
		}
	}
	if len(names) == 0 {
		return "-"
	}
	return strings.Join(names, ",")
}
