package terminal

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/caliper"
	"evenbeat/devices/quantity"
	"evenbeat/devices/recognise"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// memory is a book in memory that counts.
type memory struct{ readings, faults, undone, ended int }

func (m *memory) StartSession(context.Context, sessions.Session) (int64, error) { return 1, nil }
func (m *memory) EndSession(context.Context, int64, time.Time) error            { m.ended++; return nil }
func (m *memory) Checkpoint(context.Context) error                              { return nil }
func (m *memory) Undo(context.Context, int64, string) error                     { m.undone++; return nil }
func (m *memory) AddEvent(context.Context, sessions.Event) (int64, error)       { return 1, nil }
func (m *memory) AddReading(context.Context, sessions.Reading) (int64, error) {
	m.readings++
	return int64(m.readings), nil
}
func (m *memory) AddFault(context.Context, sessions.Fault) (int64, error) {
	m.faults++
	return int64(m.faults), nil
}

// presses is a caliper whose button is pressed once a second. Each tenth time its jaws
// are closed, which undoes the last reading.
type presses int

func (p presses) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	for i := range int(p) {
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
			return nil
		}
		text := fmt.Sprintf("63.%02dmm\r\n", i%7)
		if i%10 == 9 {
			text = "0.00mm\r\n"
		}
		if err := deliver(devices.Chunk{At: stamp(), Bytes: []byte(text)}); err != nil {
			return err
		}
	}
	<-ctx.Done()
	return nil
}

func stamp() devices.Stamp { return devices.Stamp{UTC: time.Now().UnixNano()} }

// session is one of a plan of n bores, for which the button is pressed so many times.
func session(t *testing.T, n int, p presses) *live.Measuring {
	t.Helper()
	b := live.Bench{Log: zerolog.Nop()}
	in := live.Input{Port: "here", Source: p, Instrument: live.Instrument{Decoder: caliper.TextLength().New(quantity.Millimetre),
		Profile: configs.Profile{Name: "caliper", LimitInsideMM: 0.04}}}
	m := b.NewMeasuring(live.MeasuringOptions{Clock: sessions.Clock{Name: "Hall"}, Now: stamp, Inputs: []live.Input{in}, Progress: plan.Start(plan.Plan{Name: "bores", Part: "barrel", Steps: []plan.Step{
		{Dimension: "bore", Count: n, Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 1e-3}}})})
	return m
}

// gate is an output that takes nothing before it is opened.
type gate struct {
	bytes.Buffer
	opened chan struct{}
}

func (g *gate) Write(p []byte) (int, error) {
	<-g.opened
	return g.Buffer.Write(p)
}

// acknowledged splits JSON lines into those of readings and, in order of number, the
// others.
func acknowledged(text string) (readings, others []string) {
	for line := range strings.Lines(text) {
		if strings.HasPrefix(line, `{"reading"`) {
			readings = append(readings, line)
		} else {
			others = append(others, line)
		}
	}
	slices.Sort(others)
	return readings, others
}

// The output stands still for a whole session: the instrument is not held up, and
// once the output goes on no reading and no undo is missing in it.
func TestStalledOutputMissesNothing(t *testing.T) {
	const pressed, wanted = 1000, 799
	var brisk bytes.Buffer
	synctest.Test(t, func(t *testing.T) {
		s := Streams{In: strings.NewReader(""), Out: &brisk, Err: io.Discard, JSON: true, Line: render.Lines(&brisk, someone), Log: zerolog.Nop()}
		if err := s.Measure(t.Context(), session(t, wanted, pressed), new(memory)); err != nil {
			t.Error(err)
		}
	})
	synctest.Test(t, func(t *testing.T) {
		out, errs, store := &gate{opened: make(chan struct{})}, new(bytes.Buffer), new(memory)
		s := Streams{In: strings.NewReader(""), Out: out, Err: errs, JSON: true, Line: render.Lines(out, someone), Log: zerolog.Nop()}
		done := make(chan error, 1)
		go func() { done <- s.Measure(t.Context(), session(t, wanted, pressed), store) }()
		time.Sleep(pressed * time.Second)
		synctest.Wait()
		if store.readings != 898 || store.undone != 99 || store.ended != 1 {
			t.Errorf("while the output stood still: %+v; want 898 readings, 99 of them undone, and the end", store)
		}
		close(out.opened)
		if err := <-done; err != nil {
			t.Error(err)
		}
		wantReadings, wantOthers := acknowledged(brisk.String())
		readings, others := acknowledged(out.String())
		if !slices.Equal(readings, wantReadings) || !slices.Equal(others, wantOthers) {
			t.Errorf("%d readings and %d undone, want %d and %d, each as they are without a stall",
				len(readings), len(others), len(wantReadings), len(wantOthers))
		}
		if len(readings) != 898 || len(others) != 99 {
			t.Errorf("%d readings and %d undone were written, want 898 and 99", len(readings), len(others))
		}
	})
}

// broken takes so many writes.
type broken int

var errBroken = errors.New("no space left")

func (b *broken) Write(p []byte) (int, error) {
	if *b--; *b < 0 {
		return 0, errBroken
	}
	return len(p), nil
}

// An output that fails ends the session, with its error.
func TestFailedOutputEndsTheSession(t *testing.T) {
	for _, asJSON := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			out, store, errs := broken(3), new(memory), new(bytes.Buffer)
			s := Streams{In: strings.NewReader(""), Out: &out, Err: errs, JSON: asJSON, Line: render.Lines(&out, someone), Log: zerolog.Nop()}
			began := time.Now()
			if err := s.Measure(t.Context(), session(t, 100, 100), store); !errors.Is(err, errBroken) {
				t.Errorf("got %v, want %v", err, errBroken)
			}
			if took := time.Since(began); store.ended != 1 || store.readings < 4 || took > 5*time.Second {
				t.Errorf("%d readings, ended %d times after %v; want it ended with the fourth", store.readings, store.ended, took)
			}
			if strings.Contains(errs.String(), "kept.") {
				t.Errorf("summed up: %s", errs)
			}
		})
	}
}

// Faults that came while the output stood still are counted, not told one by one.
func TestMissedFaultsAreCounted(t *testing.T) {
	var errs bytes.Buffer
	told := told{Streams: Streams{Err: &errs}, faults: 2}
	told.catchUp(&live.State{Faults: 5, Warnings: []string{"raw bytes are not kept: full"}})
	told.catchUp(&live.State{Faults: 5, Warnings: []string{"raw bytes are not kept: full"}})
	want := "  ! raw bytes are not kept: full\n  ! 3 faults came while the output stood still: the book has them\n"
	if errs.String() != want {
		t.Errorf("got %q, want %q", errs.String(), want)
	}
}

// A port that sends noise at every setting is told of four times, and another beside it as
// if it were alone.
func TestNoiseIsBounded(t *testing.T) {
	var errs bytes.Buffer
	told := told{Streams: Streams{Err: &errs}}
	for n := range 40 {
		told.searching(live.SearchStep{Port: "loud", Finding: recognise.Finding{State: recognise.Noise}})
		if n == 20 {
			told.searching(live.SearchStep{Port: "other", Finding: recognise.Finding{State: recognise.Noise}})
		}
	}
	if got := strings.Count(errs.String(), "\n"); got != 5 || strings.Count(errs.String(), "--profile") != 1 {
		t.Errorf("told:\n%s", errs.String())
	}
}
