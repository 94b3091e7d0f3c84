//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/creack/pty"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// workshop is the book, its eight instruments, and the programs that listen to them.
type workshop struct {
	dir, book   string
	instruments []*sending
	programs    []*recording
	killed      int
	within      time.Duration // what was received is in the book
	sum         struct{ heard, acked, found int }

	mu    sync.Mutex
	more  *sync.Cond
	lines int          // said by all the programs
	ended []*recording // that were not killed
}

// sending is an instrument that sends one line after the other, each of its own.
type sending struct {
	*os.File
	port string
	sent int64 // lines
	line func(n int64) string
	ack  *regexp.Regexp // how a program says how many of its lines are in the book
	in   func(ctx context.Context, b *book.Book, s sessions.Session) ([]string, error)
}

// recording is a program that records, and what it said so far. The workshop's lock is
// over heard, last and acked.
type recording struct {
	args    []string
	clock   string
	session int64 // the last one that was judged
	listens []*sending
	cmd     *exec.Cmd
	stop    context.CancelFunc
	read    chan struct{}
	heard   map[*sending][]heardLine
	cut     map[*sending]string // the beginning of a line
	acked   map[*sending]int
	last    int64           // its host's monotonic time
	other   strings.Builder // what it said besides
}

type heardLine struct {
	text string
	mono int64
}

var ackBeats, ackTimes, ackReading = regexp.MustCompile(`beats in the book beats=(\d+)`),
	regexp.MustCompile(`reference times in the book.* times=(\d+)`), regexp.MustCompile(`^\{"reading":\d+,.*"state":"(kept|doubtful)"`)

// newWorkshop is one with its book in a folder, and nothing else.
func newWorkshop(t *testing.T, folder string) *workshop {
	t.Helper()
	w := &workshop{dir: t.TempDir(), book: filepath.Join(folder, "book.db"), within: time.Second}
	w.more = sync.NewCond(&w.mu)
	var plan strings.Builder
	plan.WriteString("plans:\n  - name: many\n    title: many bores\n    part: barrel\n    cautions: [None is needed here.]\n    steps:\n")
	for n := range 200 { // a session goes on where the one before was killed
		fmt.Fprintf(&plan, "      - {dimension: bore-%d, ask: Measure it., count: 50, kind: inside, min_mm: 1, max_mm: 200, vary_mm: 100, spread: 90°}\n", n)
	}
	if err := os.WriteFile(filepath.Join(w.dir, "config.yaml"), []byte(plan.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	return w
}

// time adds a program that times a clock of its own by a sensor.
func (w *workshop) time(t *testing.T) *recording {
	t.Helper()
	sensor := w.instrument(t, func(n int64) string { return strconv.FormatInt(n*100_000+n*n*7919%50_000, 10) }, ackBeats, beatsIn)
	return w.program(t, []*sending{sensor}, "time", "--port", sensor.port, "--profile", "beat-counter")
}

// timeByReference adds one that listens to a receiver of time besides.
func (w *workshop) timeByReference(t *testing.T) *recording {
	t.Helper()
	p, receiver := w.time(t), w.instrument(t, told, ackTimes, timesIn)
	p.listens, p.args = append(p.listens, receiver), append(p.args, "--reference", receiver.port)
	return p
}

// measure adds one that measures a clock of its own by a caliper.
func (w *workshop) measure(t *testing.T) *recording {
	t.Helper()
	caliper := w.instrument(t, func(n int64) string { return fmt.Sprintf("%.2fmm", 40+float64(n%4000)/100) }, ackReading, readingsIn)
	return w.program(t, []*sending{caliper}, "measure", "--plan", "many", "--port", caliper.port, "--profile", "caliper", "--json")
}

func (w *workshop) program(t *testing.T, listens []*sending, args ...string) *recording {
	t.Helper()
	p := &recording{clock: fmt.Sprintf("clock %d", len(w.programs)), listens: listens}
	w.run(t, "clock", "add", p.clock, "--beats-per-hour", "36000")
	p.args = append(args, "--clock", p.clock, "--log-level", "debug")
	w.programs = append(w.programs, p)
	return p
}

func (w *workshop) instrument(t *testing.T, line func(int64) string, ack *regexp.Regexp,
	in func(context.Context, *book.Book, sessions.Session) ([]string, error)) *sending {
	t.Helper()
	here, port, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := errors.Join(here.Close(), port.Close()); err != nil {
			t.Error(err)
		}
	})
	s := &sending{File: here, port: port.Name(), line: line, ack: ack, in: in}
	w.instruments = append(w.instruments, s)
	return s
}

// sendOn has each instrument send ten lines a second, in turn, until the test ends.
func (w *workshop) sendOn(t *testing.T) {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	sent := make(chan error, 1)
	go func() {
		tick := time.NewTicker(100 * time.Millisecond / time.Duration(len(w.instruments)))
		defer tick.Stop()
		for n := 0; ; n++ {
			select {
			case <-ctx.Done():
				sent <- nil
				return
			case <-tick.C:
			}
			if err := w.instruments[n%len(w.instruments)].send(); err != nil {
				sent <- err
				return
			}
		}
	}()
	t.Cleanup(func() {
		stop()
		if err := <-sent; err != nil {
			t.Error(err)
		}
	})
}

// send sends the instrument's next line.
func (s *sending) send() error {
	_, err := fmt.Fprintf(s, "%s\r\n", s.line(s.sent))
	s.sent++
	return err
}

// command is the program, in the workshop's folder.
func (w *workshop) command(ctx context.Context, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "evenbeat", args...)
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + w.dir, "EVENBEAT_BOOK=" + w.book, "EVENBEAT_CONFIG=" + filepath.Join(w.dir, "config.yaml"), "NO_COLOR=1"}
	return cmd
}

// run runs a command to its end and returns what it printed.
func (w *workshop) run(t *testing.T, args ...string) string {
	t.Helper()
	out, err := w.command(t.Context(), args...).CombinedOutput()
	if err != nil {
		t.Fatalf("evenbeat %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

func (p *recording) start(t *testing.T, w *workshop) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), patience)
	p.cmd, p.stop, p.read = w.command(ctx, p.args...), stop, make(chan struct{})
	p.heard, p.acked, p.last = map[*sending][]heardLine{}, map[*sending]int{}, 0
	p.cut = map[*sending]string{}
	p.other.Reset()
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.cmd.Stderr = p.cmd.Stdout // what it says comes in one order
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		defer close(p.read)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			w.mu.Lock()
			w.lines++
			p.hear(t, lines.Bytes())
			w.more.Broadcast()
			w.mu.Unlock()
		}
		w.mu.Lock()
		w.ended = append(w.ended, p)
		w.more.Broadcast()
		w.mu.Unlock()
	}()
}

var receivedBytes = regexp.MustCompile(` received bytes=(".*") mono_ns=(\d+) port=(\S+) `)

// hear takes a line that the program said.
func (p *recording) hear(t *testing.T, line []byte) {
	if m := receivedBytes.FindSubmatch(line); m != nil {
		quoted, err := strconv.Unquote(string(m[1]))
		text, err2 := strconv.Unquote(quoted)
		mono, err3 := strconv.ParseInt(string(m[2]), 10, 64)
		if err := errors.Join(err, err2, err3); err != nil {
			t.Errorf("%s: %v", line, err)
		}
		p.last = max(p.last, mono)
		for _, s := range p.listens {
			if s.port != string(m[3]) {
				continue
			}
			p.cut[s] += text
			for whole := ""; strings.Contains(p.cut[s], "\r\n"); {
				whole, p.cut[s], _ = strings.Cut(p.cut[s], "\r\n")
				p.heard[s] = append(p.heard[s], heardLine{whole, mono})
			}
		}
		return
	}
	for _, s := range p.listens {
		if m := s.ack.FindSubmatch(line); m != nil {
			n, err := strconv.Atoi(string(m[1]))
			if err != nil {
				n = 1
			}
			p.acked[s] += n
			return
		}
	}
	if !bytes.Contains(line, []byte(" DBG quiet ")) {
		p.other.Write(append(line, '\n'))
	}
}

// deaf tells that the program has not heard all its instruments yet.
func (p *recording) deaf() bool { return len(p.heard) < len(p.listens) }

func (w *workshop) said() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.lines
}

// await waits until something holds of what the programs said.
func (w *workshop) await(t *testing.T, holds func() bool) {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	for !holds() && len(w.ended) == 0 {
		w.more.Wait()
	}
	for _, p := range w.ended {
		t.Fatalf("%v ended by itself, having said:\n%s", p.args, p.other.String())
	}
}

// kill kills the program without warning and reads what it had still said.
func (w *workshop) kill(t *testing.T, p *recording) {
	t.Helper()
	if err := w.end(p, os.Kill); err == nil || !strings.Contains(err.Error(), "killed") {
		t.Errorf("%v ended by itself: %v", p.args, err)
	}
	w.killed++
}

// end sends the program a signal, and waits until it has ended and all it said is read.
func (w *workshop) end(p *recording, signal os.Signal) error {
	err := p.cmd.Process.Signal(signal)
	<-p.read
	err = errors.Join(err, p.cmd.Wait())
	p.stop()
	p.cmd = nil
	w.mu.Lock()
	defer w.mu.Unlock()
	w.ended = slices.DeleteFunc(w.ended, func(e *recording) bool { return e == p })
	return err
}
