//go:build unix

package live

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/caliper"
	"evenbeat/devices/port"
	"evenbeat/devices/pseudo"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// replugs is the environment variable for more than the 60 cycles of the gate.
const replugs = "EVENBEAT_REPLUGS"

// loosePlug is a caliper whose plug is pulled whenever the system has handed over all that
// it sent, and put in again. It begins to send before the port is opened anew, while that
// goes on, or after it.
type loosePlug struct {
	Source
	t        *testing.T
	name     string
	cycles   int
	rng      *rand.Rand
	ours     *os.File
	far      *os.File
	sent     []string
	unheard  int // of the lines sent, how many were not handed over yet
	sending  chan error
	begun    bool
	finished context.CancelFunc
}

func (l *loosePlug) plugIn() {
	var err error
	if l.ours, l.far, err = pseudo.Terminal(); err != nil {
		l.t.Fatal(err)
	}
	if err := os.Symlink(l.far.Name(), l.name); err != nil {
		l.t.Fatal(err)
	}
}

func (l *loosePlug) pull() error {
	if err := os.Remove(l.name); err != nil {
		return err
	}
	return l.ours.Close()
}

// send sends one to three readings, no two in a session alike.
func (l *loosePlug) send(after int) {
	var lines []string
	for range 1 + l.rng.IntN(3) {
		n := len(l.sent)
		lines = append(lines, fmt.Sprintf("%d.%03dmm\r\n", 50+n/1000, n%1000))
		l.sent = append(l.sent, strings.TrimSpace(lines[len(lines)-1]))
	}
	l.unheard, l.begun = len(lines), true
	ours := l.ours
	go func() {
		for range after {
			runtime.Gosched()
		}
		var err error
		for _, line := range lines {
			if err == nil {
				_, err = ours.WriteString(line)
			}
		}
		l.sending <- err
	}()
}

func (l *loosePlug) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return l.Source.Run(ctx, func(c devices.Chunk) error {
		if err := deliver(c); err != nil {
			return err
		}
		switch l.unheard -= bytes.Count(c.Bytes, []byte("\n")); {
		case c.Fault == devices.FaultUnplugged:
			l.begun = false
			l.plugIn()
			switch l.cycles % 3 {
			case 0: // what was sent lies there when the port is opened
				l.send(0)
				l.sending <- <-l.sending
			case 1:
				l.send(l.rng.IntN(2000))
			}
		case c.Fault == devices.FaultReplugged:
			if err := l.far.Close(); err != nil {
				return err
			}
			if !l.begun {
				l.send(0)
			}
		case l.begun && l.unheard == 0:
			l.begun = false
			if err := <-l.sending; err != nil {
				return err
			}
			if l.cycles--; l.cycles < 0 {
				l.finished()
				return nil
			}
			return l.pull()
		}
		return nil
	})
}

// Whatever comes from the moment at which the plug is in again is in the book, once.
func TestReplugs(t *testing.T) {
	cycles := 60
	if text := os.Getenv(replugs); text != "" {
		var err error
		if cycles, err = strconv.Atoi(text); err != nil {
			t.Fatal(err)
		}
	}
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), book.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	}()
	clock, err := b.AddClock(t.Context(), sessions.Clock{Name: "Hall"})
	if err != nil {
		t.Fatal(err)
	}
	// A line that is lost would be waited for in vain.
	ctx, stop := context.WithTimeout(t.Context(), time.Minute+time.Duration(cycles)*100*time.Millisecond)
	defer stop()
	l := &loosePlug{t: t, name: filepath.Join(t.TempDir(), "plug"), cycles: cycles, rng: rand.New(rand.NewPCG(11, 0)),
		sending: make(chan error, 1), finished: stop}
	l.plugIn()
	bench := onBench(t)
	in, err := bench.Open(l.name, Instrument{Decoder: caliper.TextLength().New(quantity.Millimetre)}, port.HostClock())
	if err != nil {
		t.Fatal(err)
	}
	l.Source, in.Source = in.Source, l
	if err := l.far.Close(); err != nil {
		t.Fatal(err)
	}
	l.send(0)
	m := bench.NewMeasuring(MeasuringOptions{Clock: clock, Progress: plan.Start(bores(10 * cycles)), Inputs: []Input{in}, Now: now})
	if err := m.Run(ctx, b); err != nil {
		t.Fatal(err)
	}
	r, err := b.Record(t.Context(), clock.ID)
	if err != nil {
		t.Fatal(err)
	}
	var kept []string
	for _, x := range r.Readings {
		kept = append(kept, strings.TrimSpace(x.Text))
	}
	for i := range max(len(kept), len(l.sent)) {
		if i >= len(kept) || i >= len(l.sent) || kept[i] != l.sent[i] {
			t.Fatalf("%d sent, %d kept; they part at %d: sent %q, kept %q", len(l.sent), len(kept), i, l.sent[min(i, len(l.sent)):], kept[min(i, len(kept)):])
		}
	}
	if s := m.State(); s.Faults != int64(2*cycles) {
		t.Errorf("%d faults, want each of %d cycles told as pulled and back", s.Faults, cycles)
	}
}
