package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/air"
	"evenbeat/devices/capture"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// replayedMinutes names the variable of the environment that says how long the bench is
// recorded: 1440 for a day, which takes a quarter of an hour.
const replayedMinutes = "EVENBEAT_REPLAYED_MINUTES"

// Eight beat sensors, two calipers and a thermometer are played back from captures into one
// book, each by sessions and a connection of its own, in virtual time. Every line is kept
// once and in order, the memory in use stays the same, and no goroutine is left.
func TestReplayedDay(t *testing.T) {
	modest := 3
	if testing.Short() {
		modest = 1
	}
	long := time.Duration(wanted(t, replayedMinutes, modest)) * time.Minute
	d := &replayedDay{file: filepath.Join(t.TempDir(), "book.db"), long: long}
	synctest.Test(t, d.record) // fails if a goroutine is left
	beats, readings := d.judge(t)
	least, most := d.memory[1], d.memory[1]
	for _, m := range d.memory[2:] {
		least, most = min(least, m), max(most, m)
	}
	if most-least > 4<<20 {
		t.Errorf("memory in use went from %d to %d KiB: %v", least>>10, most>>10, d.memory)
	}
	t.Logf("%s: %d beats, %d readings; memory in use %d to %d KiB", long, beats, readings, least>>10, most>>10)
}

type replayedDay struct {
	file   string
	long   time.Duration
	sent   []int64  // by each clock's instrument
	memory []uint64 // in use, at eight times before the end
}

const replayedSensors, replayedCalipers = 8, 2

// interval is how far apart the lines of instrument i are.
func (d *replayedDay) interval(i int) time.Duration {
	if i < replayedSensors {
		return time.Duration(800+50*i) * time.Millisecond
	}
	return time.Minute
}

// line is what instrument i sends.
func (d *replayedDay) line(i int, n int64) string {
	switch {
	case i < replayedSensors:
		return fmt.Sprint(n * d.interval(i).Microseconds() % (1 << 32))
	case i < replayedSensors+replayedCalipers:
		return fmt.Sprintf("%.2fmm", 40+float64(n%2000)/100)
	}
	return fmt.Sprintf("%.1fC", 20+float64(n%100)/10)
}

// capture writes what instrument i sends, up to 4 ms late.
func (d *replayedDay) capture(i int, to *io.PipeWriter) {
	w := capture.NewWriter(to)
	var err error
	for n := int64(0); err == nil && n < d.sent[i]; n++ {
		at := n*int64(d.interval(i)) + n*7919%4000*1000
		err = w.Write(devices.Chunk{At: devices.Stamp{Mono: at, UTC: hourStart.UnixNano() + at}, Bytes: []byte(d.line(i, n) + "\r\n")})
	}
	to.CloseWithError(errors.Join(err, w.Flush()))
}

// paced delivers a capture at its own pace.
type paced struct{ *capture.Reader }

func (p paced) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	begun := time.Now()
	for {
		c, err := p.Next()
		if errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		select {
		case <-time.After(time.Until(begun.Add(time.Duration(c.At.Mono)))):
		case <-ctx.Done():
			return nil
		}
		if err := deliver(c); err != nil {
			return err
		}
	}
}

func (d *replayedDay) record(t *testing.T) {
	loaded, err := configs.Load(configs.LoadOptions{Environ: []string{"HOME=" + t.TempDir()}, Formats: live.FormatProfiles()})
	if err != nil {
		t.Fatal(err)
	}
	bench := live.Bench{Loaded: loaded, Unit: quantity.Millimetre, Log: zerolog.Nop()}
	for i := range replayedSensors + replayedCalipers + 1 {
		d.sent = append(d.sent, 1+int64((d.long-1)/d.interval(i)))
	}
	var all sync.WaitGroup
	for i := range d.sent {
		b, err := book.Open(t.Context(), d.file, book.Options{Create: true})
		if err != nil {
			t.Fatal(err)
		}
		clock, err := b.AddClock(t.Context(), sessions.Clock{Name: fmt.Sprintf("clock %d", i)})
		if err != nil {
			t.Fatal(err)
		}
		r, w := io.Pipe()
		all.Go(func() {
			if err := errors.Join(d.session(t, bench, b, clock, i, paced{capture.NewReader(r)}), b.Close()); err != nil {
				t.Errorf("instrument %d: %v", i, err)
			}
		})
		go d.capture(i, w)
	}
	for range 8 {
		time.Sleep(d.long / 9)
		synctest.Wait()
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		d.memory = append(d.memory, m.HeapAlloc)
	}
	all.Wait()
}

// session records what instrument i says, until that ends.
func (d *replayedDay) session(t *testing.T, bench live.Bench, b *book.Book, clock sessions.Clock, i int, src live.Source) error {
	begun := time.Now()
	now := func() devices.Stamp {
		mono := time.Since(begun).Nanoseconds()
		return devices.Stamp{Mono: mono, UTC: hourStart.UnixNano() + mono}
	}
	profile := "beat-counter"
	if i >= replayedSensors {
		profile = "caliper"
	}
	ins, err := bench.Instrument(profile)
	if err != nil {
		return err
	}
	in := live.Input{Instrument: ins, Port: "here", Source: src}
	switch {
	case i < replayedSensors:
		return bench.NewTiming(clock, in, live.TimingOptions{Now: now}).Run(t.Context(), b)
	case i < replayedSensors+replayedCalipers:
		bores := plan.Plan{Name: "bores", Part: "barrel", Steps: []plan.Step{
			{Dimension: "bore", Count: int(d.sent[i]) + 1, Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 1}}}
		return bench.NewMeasuring(live.MeasuringOptions{Clock: clock, Progress: plan.Start(bores), Inputs: []live.Input{in}, Now: now}).Run(t.Context(), b)
	}
	ses := sessions.Session{ClockID: clock.ID, Kind: sessions.SessionTime, Started: hourStart}
	if ses.ID, err = b.StartSession(t.Context(), ses); err != nil {
		return err
	}
	queue, heard := make(chan []devices.Said), make(chan error, 1)
	go func() {
		heard <- live.Listen(t.Context(), src, air.AirText().New(quantity.NoUnit), into(t.Context(), queue))
		close(queue)
	}()
	rec := &recorder.Timing{Store: b, Session: ses, Log: zerolog.Nop()}
	return errors.Join(rec.Run(t.Context(), queue), <-heard)
}

// judge holds the book against what was sent.
func (d *replayedDay) judge(t *testing.T) (beats, readings int) {
	t.Helper()
	b, err := book.Open(t.Context(), d.file, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for i, sent := range d.sent {
		c, err := b.ClockByName(t.Context(), fmt.Sprintf("clock %d", i))
		if err != nil {
			t.Fatal(err)
		}
		r, err := b.Record(t.Context(), c.ID)
		if err != nil || len(r.Sessions) != 1 || r.Sessions[0].Ended.IsZero() {
			t.Fatalf("instrument %d: sessions %+v, %v", i, r.Sessions, err)
		}
		var got []string
		switch {
		case i < replayedSensors:
			got, err = beatsIn(t.Context(), b, r.Sessions[0])
			beats += len(got)
		case i < replayedSensors+replayedCalipers:
			got, err = readingsIn(t.Context(), b, r.Sessions[0])
			readings += len(got)
		default:
			for _, a := range r.Air {
				got = append(got, fmt.Sprintf("%.1fC", a.TemperatureC))
			}
		}
		if err != nil || int64(len(got)) != sent {
			t.Errorf("instrument %d: %d lines of %d in the book, %v", i, len(got), sent, err)
		}
		for n, text := range got {
			if want := d.line(i, int64(n)); text != want {
				t.Fatalf("instrument %d: line %d is %q, want %q", i, n+1, text, want)
			}
		}
		if f, err := b.Faults(t.Context(), r.Sessions[0].ID); err != nil || len(f) > 0 {
			t.Errorf("instrument %d: faults %+v, %v", i, f, err)
		}
	}
	if r, err := b.Check(t.Context()); err != nil || !r.OK() {
		t.Errorf("check: %q, %v", r.Problems, err)
	}
	return beats, readings
}
