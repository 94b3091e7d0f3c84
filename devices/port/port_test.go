//go:build unix

package port

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/rs/zerolog"

	"evenbeat/devices"
)

// TestMain lets the test's own program stand for a second one that opens a port.
func TestMain(m *testing.M) {
	if name := os.Getenv("OPEN_PORT"); name != "" {
		_, err := Open(name, Options{})
		fmt.Println(err)
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// instrument is the other end of a pseudo-terminal, plugged in under a name of its
// own that stays when the pair is replaced.
type instrument struct {
	t      *testing.T
	name   string
	master *os.File
}

func plugIn(t *testing.T) *instrument {
	i := &instrument{t: t, name: filepath.Join(t.TempDir(), "port")}
	i.replug()
	t.Cleanup(func() { i.master.Close() })
	return i
}

func (i *instrument) replug() {
	i.t.Helper()
	master, tty, err := pty.Open()
	if err != nil {
		i.t.Fatal(err)
	}
	i.master = master
	if err := os.Symlink(tty.Name(), i.name); err != nil {
		i.t.Fatal(err)
	}
	// Held until the port has it, a pair without a reader at its other end would
	// look as if it were unplugged.
	i.t.Cleanup(func() { tty.Close() })
}

func (i *instrument) unplug() {
	i.t.Helper()
	if err := os.Remove(i.name); err != nil {
		i.t.Fatal(err)
	}
	if err := i.master.Close(); err != nil {
		i.t.Fatal(err)
	}
}

func (i *instrument) send(s string) {
	i.t.Helper()
	if _, err := i.master.WriteString(s); err != nil {
		i.t.Fatal(err)
	}
}

// running is a port in Run, with what it delivered and what Run returned.
type running struct {
	*Port
	t      *testing.T
	chunks chan devices.Chunk
	done   chan error
	stop   context.CancelFunc
}

func run(t *testing.T, name string, o Options) *running {
	t.Helper()
	p, err := Open(name, o)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	r := &running{Port: p, t: t, chunks: make(chan devices.Chunk, 1000), done: make(chan error, 1), stop: stop}
	go func() {
		r.done <- p.Run(ctx, func(c devices.Chunk) error {
			c.Bytes = append([]byte(nil), c.Bytes...)
			r.chunks <- c
			return nil
		})
		close(r.chunks)
	}()
	t.Cleanup(stop)
	return r
}

// until returns the bytes that come until they end in want.
func (r *running) until(want string) string {
	r.t.Helper()
	var got strings.Builder
	for !strings.HasSuffix(got.String(), want) {
		c, open := <-r.chunks
		if !open || c.Fault != "" {
			r.t.Fatalf("fault %q (%s), open %v, while waiting for %q", c.Fault, c.Text, open, want)
		}
		got.Write(c.Bytes)
	}
	return got.String()
}

// fault returns the next chunk that is a fault.
func (r *running) fault() devices.Chunk {
	r.t.Helper()
	for c := range r.chunks {
		if c.Fault != "" {
			return c
		}
	}
	r.t.Fatal("Run ended without a fault")
	return devices.Chunk{}
}

func TestBytesArriveRaw(t *testing.T) {
	i := plugIn(t)
	i.send("before it was opened\r\n")
	r := run(t, i.name, Options{})
	var all strings.Builder
	for b := range 256 {
		all.WriteByte(byte(b))
	}
	all.WriteString("end")
	i.send(all.String())
	if got := r.until("end"); got != all.String() {
		t.Errorf("got %q, want %q", got, all.String())
	}
	r.stop()
	if err := <-r.done; err != nil {
		t.Errorf("Run ended with %v, want nil", err)
	}
}

func TestStampsAreOfTheClockGiven(t *testing.T) {
	i := plugIn(t)
	var n int64
	now := func() devices.Stamp { n++; return devices.Stamp{UTC: 1e18 + n, Mono: n} }
	r := run(t, i.name, Options{Now: now})
	i.send("x")
	for c := range r.chunks {
		if c.At.UTC != 1e18+c.At.Mono || c.At.Mono < 1 {
			t.Errorf("stamp %+v isn't of the clock given", c.At)
		}
		if len(c.Bytes) == 0 { // the pause behind the byte is told, once
			break
		}
	}
}

func TestUnplugAndReplug(t *testing.T) {
	i := plugIn(t)
	r := run(t, i.name, Options{Reconnect: true})
	for round := range 3 {
		line := fmt.Sprintf("%d mm\r\n", round)
		i.send(line)
		if got := r.until("\n"); got != line {
			t.Errorf("round %d: got %q, want %q", round, got, line)
		}
		i.unplug()
		gone := r.fault()
		if gone.Fault != devices.FaultUnplugged {
			t.Fatalf("got fault %s, want unplugged", gone.Fault)
		}
		i.replug()
		i.send("early\n") // before the port has it, or while it is opened
		back := r.fault()
		if back.Fault != devices.FaultReplugged || back.At.Mono <= gone.At.Mono || !strings.HasPrefix(back.Text, "back after ") {
			t.Fatalf("got %+v after %+v, want a later replugged", back, gone)
		}
		if got := r.until("\n"); got != "early\n" {
			t.Errorf("round %d: got %q first", round, got)
		}
	}
	i.unplug()
	r.fault()
	r.stop() // while it waits
	if err := <-r.done; err != nil {
		t.Errorf("Run ended with %v, want nil", err)
	}
}

func TestUnpluggedForGood(t *testing.T) {
	i := plugIn(t)
	r := run(t, i.name, Options{})
	i.unplug()
	if c := r.fault(); c.Fault != devices.FaultUnplugged {
		t.Errorf("got fault %s, want unplugged", c.Fault)
	}
	err := <-r.done
	if e, ok := errors.AsType[*Error](err); !ok || e.Kind != Gone || e.CallersFault() {
		t.Errorf("Run ended with %v, want it gone, and not by the caller", err)
	}
}

func TestDeliverFails(t *testing.T) {
	i := plugIn(t)
	p, err := Open(i.name, Options{})
	if err != nil {
		t.Fatal(err)
	}
	full := errors.New("the book is full")
	i.send("x")
	if err := p.Run(t.Context(), func(devices.Chunk) error { return full }); !errors.Is(err, full) {
		t.Errorf("Run ended with %v, want %v", err, full)
	}
	again, err := Open(i.name, Options{}) // so Run has closed and unlocked it
	if err != nil {
		t.Fatal(err)
	}
	again.dev.Close()
}

// TestOpenedTwice runs as root here, for whom the library's own second open
// succeeds.
func TestOpenedTwice(t *testing.T) {
	i := plugIn(t)
	run(t, i.name, Options{})
	_, err := Open(i.name, Options{})
	e, ok := errors.AsType[*Error](err)
	if !ok || e.Kind != Busy || !e.CallersFault() {
		t.Fatalf("second open: got %v, want it busy", err)
	}
	if runtime.GOOS == "linux" && !strings.Contains(err.Error(), "this program itself") {
		t.Errorf("%v: want it to name the holder", err)
	}
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), "OPEN_PORT="+i.name)
	out, err := child.CombinedOutput()
	if err != nil {
		t.Fatal(err)
	}
	want := i.name + ": in use"
	if runtime.GOOS == "linux" {
		want += fmt.Sprintf(": held by port.test (process %d)", os.Getpid())
	}
	if !strings.Contains(string(out), want) {
		t.Errorf("another program's open: got %q, want %q in it", out, want)
	}
}

func TestOpenRefuses(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, port string
		o          Options
		want       Kind
	}{
		{"missing", filepath.Join(t.TempDir(), "none"), Options{}, NoSuchPort},
		{"empty name", "", Options{}, NoSuchPort},
		{"a file", file, Options{}, NotSerial},
		{"a folder", t.TempDir(), Options{}, NotSerial},
		{"another device", "/dev/null", Options{}, NotSerial},
		{"bad settings", file, Options{Settings: Settings{Baud: -1}}, BadSettings},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Open(c.port, c.o)
			if e, ok := errors.AsType[*Error](err); !ok || e.Kind != c.want || !e.CallersFault() || e.Remedy == "" {
				t.Errorf("got %v, want kind %d with a remedy", err, c.want)
			}
			if got, err := os.ReadFile(file); err != nil || string(got) != "x" {
				t.Errorf("the file holds %q, %v", got, err)
			}
		})
	}
}

func TestRequests(t *testing.T) {
	i := plugIn(t)
	r := run(t, i.name, Options{Settings: Settings{Request: []byte("?\r")}})
	r.Ask()
	got := make([]byte, 2)
	if n, err := i.master.Read(got); err != nil || string(got[:n]) != "?\r" {
		t.Fatalf("asked %q, %v, want %q", got[:n], err, "?\r")
	}
	i.send("63.5mm\r")
	r.until("\r")
}

func TestRequestsByTheClock(t *testing.T) {
	i := plugIn(t)
	run(t, i.name, Options{Settings: Settings{Request: []byte("?"), RequestEvery: 20 * time.Millisecond}})
	got := make([]byte, 1)
	for range 3 {
		if n, err := i.master.Read(got); err != nil || string(got[:n]) != "?" {
			t.Fatalf("asked %q, %v", got[:n], err)
		}
	}
}

func TestPinsOfAPortWithoutAny(t *testing.T) {
	i := plugIn(t)
	on := true
	r := run(t, i.name, Options{Pins: true, Settings: Settings{DTR: &on, RTS: &on}})
	i.send("x")
	r.until("x")
}

func TestLogTellsEachByte(t *testing.T) {
	i := plugIn(t)
	lines := make(chan string, 100)
	r := run(t, i.name, Options{Log: zerolog.New(writerFunc(func(b []byte) { lines <- string(b) }))})
	i.send("63\r")
	r.until("\r")
	for line := range lines {
		if strings.Contains(line, `"received"`) {
			for _, want := range []string{`"port":"` + i.name + `"`, `\"63`, `"utc_ns":1`, `"mono_ns":`} {
				if !strings.Contains(line, want) {
					t.Errorf("%s lacks %s", line, want)
				}
			}
			return
		}
	}
}

type writerFunc func([]byte)

func (f writerFunc) Write(b []byte) (int, error) { f(b); return len(b), nil }

// While Run is paused the port stays open and locked, and what arrives is kept.
func TestPause(t *testing.T) {
	i := plugIn(t)
	p, err := Open(i.name, Options{})
	if err != nil {
		t.Fatal(err)
	}
	write := func(s string) {
		if _, err := i.master.WriteString(s); err != nil {
			t.Fatal(err)
		}
	}
	got := ""
	until := func(want string, end func() error) error {
		return p.Run(t.Context(), func(c devices.Chunk) error {
			if got += string(c.Bytes); got == want {
				return end()
			}
			return nil
		})
	}
	write("63.48mm\r\n")
	if err := until("63.48mm\r\n", func() error { return ErrPause }); !errors.Is(err, ErrPause) {
		t.Fatalf("got %v, want it paused", err)
	}
	write("63.51mm\r\n")
	if _, err := Open(i.name, Options{}); err == nil {
		t.Error("another could open the port during the pause")
	}
	done := errors.New("done")
	if err := until("63.48mm\r\n63.51mm\r\n", func() error { return done }); !errors.Is(err, done) {
		t.Fatalf("got %v, want what came during the pause", err)
	}
	p, err = Open(i.name, Options{})
	if err != nil {
		t.Fatalf("after the end: %v", err)
	}
	if err := p.dev.Close(); err != nil {
		t.Error(err)
	}
}
