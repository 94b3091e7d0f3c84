//go:build unix

package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/creack/pty"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	"evenbeat/devices/caliper"
	"evenbeat/devices/capture"
	"evenbeat/devices/quantity"
)

// running is a command at work, with its standard output to be read line by line.
type running struct {
	t    *testing.T
	out  *bufio.Scanner
	errs *heardText
	in   *io.PipeWriter
	stop context.CancelFunc
	done chan int
}

// heardText gathers what is written and lets a test wait for it.
type heardText struct {
	mu   sync.Mutex
	text strings.Builder
	more chan struct{}
}

func newHeardText() *heardText { return &heardText{more: make(chan struct{}, 1)} }

func (h *heardText) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	select {
	case h.more <- struct{}{}:
	default:
	}
	return h.text.Write(p)
}

func (h *heardText) String() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.String()
}

func (h *heardText) await(t *testing.T, want string) {
	t.Helper()
	for !strings.Contains(h.String(), want) {
		select {
		case <-h.more:
		case <-t.Context().Done():
			t.Fatalf("%q was not said: %s", want, h)
		}
	}
}

// start runs a command as main does, on a book in dir.
func start(t *testing.T, dir string, args ...string) *running {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	in, typed := io.Pipe()
	out, written := io.Pipe()
	r := &running{t: t, out: bufio.NewScanner(out), errs: newHeardText(), in: typed, stop: stop, done: make(chan int, 1)}
	env := []string{"HOME=" + dir, "EVENBEAT_BOOK=" + filepath.Join(dir, "book.db"), "EVENBEAT_KEEP_RAW=true"}
	go func() {
		status := run(ctx, args, env, in, written, r.errs)
		written.Close()
		r.done <- status
	}()
	t.Cleanup(func() {
		stop()
		typed.Close()
		go io.Copy(io.Discard, out)
	})
	return r
}

// line returns the next line of output as JSON.
func (r *running) line() map[string]any {
	r.t.Helper()
	if !r.out.Scan() {
		r.t.Fatalf("no more output: %s", r.errs.String())
	}
	var v map[string]any
	if err := json.Unmarshal(r.out.Bytes(), &v); err != nil {
		r.t.Fatalf("%q: %v", r.out.Text(), err)
	}
	return v
}

// end waits for the command's end and wants status 0.
func (r *running) end() {
	r.t.Helper()
	for r.out.Scan() { // a command that is writing must not wait
	}
	if status := <-r.done; status != statusDone {
		r.t.Errorf("status %d: %s", status, r.errs.String())
	}
}

// measured runs measure without a profile on a port and returns the texts of as
// many readings. Before each but the first, next is called.
func measured(t *testing.T, dir, port string, n int, next func(i int)) (texts []string) {
	t.Helper()
	m := start(t, dir, "measure", "--port", port, "--json")
	for i := range n {
		if i > 0 {
			next(i)
		}
		l := m.line()
		if l["state"] != "kept" {
			t.Fatalf("got %v, want a reading", l)
		}
		texts = append(texts, l["text"].(string))
	}
	m.stop()
	m.end()
	return texts
}

// A caliper of which nothing is told: its first line is a reading, at once. The raw
// bytes of the session are kept beside the book; played back, they give the same
// readings, and so does what capture keeps of them.
func TestMeasureKeepReplayCapture(t *testing.T) {
	master, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer master.Close()
	defer tty.Close()
	dir := t.TempDir()
	lines := []string{"0.00mm", "63.48mm", "63.51mm", "63.49mm", "40.10mm", "15.90mm", "15.92mm", "0.45mm"}
	send := func(i int) {
		if _, err := fmt.Fprintf(master, "%s\r\n", lines[i]); err != nil {
			t.Error(err)
		}
	}
	// The port is flushed when it is opened: the first line waits for the greeting.
	first := start(t, dir, "measure", "--port", tty.Name(), "--json")
	first.errs.await(t, "go straight on")
	send(0)
	for i := range lines {
		if l := first.line(); l["text"] != lines[i] {
			t.Fatalf("reading %d: got %v, want %s", i+1, l, lines[i])
		}
		if i+1 < len(lines) {
			send(i + 1)
		}
	}
	first.stop()
	first.end()

	raw := filepath.Join(dir, "book.raw", "session-1.capture")
	play := start(t, dir, "replay", raw, "--speed", "max", "--json")
	again := measured(t, t.TempDir(), play.line()["port"].(string), len(lines), func(int) {})
	play.end()
	if !slices.Equal(again, lines) {
		t.Errorf("played back: got %q, want %q", again, lines)
	}

	play = start(t, dir, "replay", raw, "--speed", "max", "--json")
	file := filepath.Join(dir, "again.capture")
	keep := start(t, dir, "capture", play.line()["port"].(string), "--out", file)
	play.end()
	keep.stop()
	keep.end()
	want, got := decoded(t, raw), decoded(t, file)
	if !slices.Equal(got, want) || len(want) != len(lines) {
		t.Errorf("captured: got %q, want %q", got, want)
	}
}

// playback delivers a capture as a port would, but without waiting.
type playback struct{ r *capture.Reader }

func (p playback) Run(_ context.Context, deliver func(devices.Chunk) error) error {
	for {
		c, err := p.r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := deliver(c); err != nil {
			return err
		}
	}
}

// decoded returns the texts of the readings in a capture.
func decoded(t *testing.T, file string) (texts []string) {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	err = live.Listen(t.Context(), playback{capture.NewReader(f)}, caliper.TextLength().New(quantity.NoUnit), func(said []devices.Said) error {
		for _, s := range said {
			if s.Kind == devices.KindReading {
				texts = append(texts, s.Text)
			} else if s.Fault != devices.FaultUnplugged {
				return errors.New(s.Text)
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	return texts
}
