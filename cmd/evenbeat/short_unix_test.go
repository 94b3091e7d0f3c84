//go:build unix

package main

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"testing"

	"github.com/rs/zerolog"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	beatlines "evenbeat/devices/beat"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate"
	"evenbeat/devices/simulate/held"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// shortRun is a clock of half-second beats, a sensor that counts 0.2 % slow, and a
// pseudo-terminal whose bytes are handed over each stepS of the host's time, if that is
// not 0.
type shortRun struct{ lengthS, stepS float64 }

// script yields the sensor's lines at their arrivals.
func (r shortRun) script(seed uint64, clock *simulate.Clock) iter.Seq2[int64, []byte] {
	return func(yield func(int64, []byte) bool) {
		step, phase := int64(r.stepS*1e9), int64(seed*1_234_567)
		for at, line := range clock.Lines(0, r.lengthS) {
			if step > 0 {
				at += step - 1 - (at+phase+step-1)%step
			}
			if !yield(at, line) {
				return
			}
		}
	}
}

// taking tells the bench what was taken.
type taking struct {
	*port.Port
	bench *simulate.Bench
}

func (t taking) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return t.Port.Run(ctx, func(c devices.Chunk) error {
		err := deliver(c)
		t.bench.Consumed(len(c.Bytes))
		return err
	})
}

// rate times the run through the pseudo-terminal, in virtual time, and returns what is
// found and the truth in s/day.
func (r shortRun) rate(ctx context.Context, seed uint64) (f beat.Result, truth float64, err error) {
	cfg := simulate.EvenClock(seed)
	cfg.BeatsPerHour, cfg.Span, cfg.Jitter, cfg.Rate = 7200, 120, 80e-6, 40*math.Sin(float64(seed))
	cfg.ResonatorPPM, cfg.Delay = -2000, simulate.Delay{Least: 300e-6, Mean: 40e-6, Most: 5e-3}
	clock, err := simulate.NewClock(cfg)
	if err != nil {
		return f, 0, err
	}
	host, err := simulate.NewHost(simulate.HostConfig{Start: hourStart})
	if err != nil {
		return f, 0, err
	}
	link, err := simulate.Pair()
	if err != nil {
		return f, 0, err
	}
	bench, format := simulate.NewBench(host), beatlines.CountLines()
	p, err := port.Open(link.Name, port.Options{Settings: port.Settings{Baud: 115200}, Now: bench.Now, Log: zerolog.Nop()})
	if err != nil {
		return f, 0, errors.Join(err, link.Close())
	}
	var store beatStore
	ses := sessions.Session{ID: 1, Kind: sessions.SessionTime, Started: hourStart,
		Timing: sessions.Timing{HostKnown: true, HostSynced: true, CountRate: cfg.CountRate, CountBits: cfg.CountBits}}
	rec := &recorder.Timing{Store: &store, Session: ses, Log: zerolog.Nop()}
	queue, heard, kept := make(chan []devices.Said, queueLength), make(chan error, 1), make(chan error, 1)
	until, end := context.WithCancel(ctx)
	defer end()
	go func() {
		heard <- live.Listen(until, taking{p, bench}, format.New(quantity.NoUnit), into(ctx, queue))
		close(queue)
	}()
	go func() { kept <- rec.Run(ctx, queue) }()
	err = bench.Play(ctx, link.Instrument, r.script(seed, clock))
	end()
	<-heard // ctx has ended
	if err = errors.Join(err, <-kept, link.Close()); err != nil {
		return f, 0, err
	}
	f, err = analysis.Rate(sessions.Clock{BeatsPerHour: cfg.BeatsPerHour}, ses,
		func(yield func([]sessions.Beat, error) bool) { yield(store.beats, nil) }, analysis.RateOptions{})
	return f, cfg.Rate, err
}

// Half a minute on a quiet port tells the rate to far better than a minute a day, though
// the sensor's resonator is off by 170 s/day. Two minutes on a port that is polled each
// 16 ms hold the truth, and the findings tell the step. A rectangular limit holds more
// often than 95 % over rates drawn at random: see TestCoverageOfPolling.
func TestCoverageOfShortRuns(t *testing.T) {
	for _, c := range []struct {
		kind, length string
		run          shortRun
		up, widest   float64 // per cent; s/day
	}{
		{"quiet port", "25 s", shortRun{25, 0}, 100, 60},
		{"each 16 ms", "2 min", shortRun{120, 16e-3}, 100, 0.95 * 16e-3 / 120 * 86400},
	} {
		t.Run(c.kind, func(t *testing.T) {
			t.Parallel()
			held.Count(t, held.Cell{What: "rate through a port", Kind: c.kind, Length: c.length, Unit: "s/day", Seeds: 40, Low: 92, Up: c.up,
				Run: func(seed uint64) (quantity.Value, float64, error) {
					f, truth, err := c.run.rate(t.Context(), seed)
					step := f.TimeBase.DelayStepS
					switch {
					case err != nil:
					case f.Rate.Half95() > c.widest:
						err = fmt.Errorf("±%.3g s/day, want %.3g at the most", f.Rate.Half95(), c.widest)
					case math.Abs(step-c.run.stepS) > 0.02*c.run.stepS:
						err = fmt.Errorf("bytes come each %.3g s, %.3g s is told", c.run.stepS, step)
					}
					return f.Rate.Value, truth, err
				}})
		})
	}
}
