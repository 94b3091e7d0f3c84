package main

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	beatlines "evenbeat/devices/beat"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// dayOf is a clock and a computer that listens to it for a day.
type dayOf struct {
	clock simulate.ClockConfig
	host  simulate.HostConfig
}

// aDay returns a seconds clock whose sensor counts microseconds in 32 bits by a
// resonator that is 0.4 % fast; its counter wraps twenty times in the day. Beats are
// missed and echoes heard. The host hears of each 0 to 16 ms late, and its own clock
// is off by what the time base grants one that is disciplined: 1 ms at either end,
// and 0.02 ppm.
func aDay(seed uint64) dayOf {
	c := simulate.EvenClock(seed)
	c.Span, c.Rate, c.Jitter = 86400, 8.64, 80e-6
	c.ResonatorPPM = 4000
	c.Missed, c.Echo, c.Knock = 0.01, 0.003, 0.002
	c.Delay = simulate.Delay{Mean: 4e-3, Most: 16e-3}
	ppm := rand.New(rand.NewPCG(seed, 24)).NormFloat64() * math.Hypot(0.02, math.Sqrt2*1e-3/86400*1e6)
	return dayOf{c, simulate.HostConfig{PPM: ppm, Start: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)}}
}

// Run delivers the lines of the sensor as a port would, with what the port itself
// tells of the host's clock.
func (d dayOf) Run(_ context.Context, deliver func(devices.Chunk) error) error {
	clock, err := simulate.NewClock(d.clock)
	if err != nil {
		return err
	}
	host, err := simulate.NewHost(d.host)
	if err != nil {
		return err
	}
	offset, begun := int64(0), false
	for at, line := range clock.Lines(0, d.clock.Span) {
		if !host.Hears(at) {
			continue
		}
		stamp := host.Stamp(at)
		if now := stamp.UTC - stamp.Mono; begun && (now-offset > 10e6 || offset-now > 10e6) {
			err = deliver(devices.Chunk{At: stamp, Fault: devices.FaultClockStep, Text: "the host's clock moved"})
		}
		offset, begun = stamp.UTC-stamp.Mono, true
		if err = errors.Join(err, deliver(devices.Chunk{At: stamp, Bytes: line})); err != nil {
			return err
		}
	}
	return nil
}

// beatStore keeps beats in memory.
type beatStore struct{ beats []sessions.Beat }

func (s *beatStore) AppendBeats(_ context.Context, _ int64, b []sessions.Beat) error {
	s.beats = append(s.beats, b...)
	return nil
}
func (*beatStore) CompactBeats(context.Context, int64) error                           { return nil }
func (*beatStore) AppendReferences(context.Context, int64, []sessions.Reference) error { return nil }
func (*beatStore) AddFault(context.Context, sessions.Fault) (int64, error)             { return 1, nil }
func (*beatStore) AddAir(context.Context, sessions.Air) (int64, error)                 { return 1, nil }
func (*beatStore) EndSession(context.Context, int64, time.Time) error                  { return nil }
func (*beatStore) Checkpoint(context.Context) error                                    { return nil }

// queueLength is that of a session's queue to the recorder.
const queueLength = 256

// into copies what is said into a queue.
func into(ctx context.Context, queue chan<- []devices.Said) func([]devices.Said) error {
	return func(said []devices.Said) error {
		if !recorder.Send(ctx, queue, slices.Clone(said)) {
			return ctx.Err()
		}
		return nil
	}
}

// rate takes the day's bytes all the way: decoder, recorder, analysis.
func (d dayOf) rate(t *testing.T) beat.Result {
	t.Helper()
	ses := sessions.Session{ID: 1, Kind: sessions.SessionTime, Started: d.host.Start,
		Timing: sessions.Timing{HostKnown: true, HostSynced: true, CountRate: d.clock.CountRate, CountBits: d.clock.CountBits}}
	var store beatStore
	rec := &recorder.Timing{Store: &store, Session: ses, Log: zerolog.Nop()}
	queue := make(chan []devices.Said, queueLength)
	heard := make(chan error, 1)
	go func() {
		heard <- live.Listen(t.Context(), d, beatlines.CountLines().New(quantity.NoUnit), into(t.Context(), queue))
		close(queue)
	}()
	err := rec.Run(t.Context(), queue)
	if err = errors.Join(err, <-heard); err != nil {
		t.Fatal(err)
	}
	f, err := analysis.Rate(sessions.Clock{BeatsPerHour: d.clock.BeatsPerHour}, ses,
		func(yield func([]sessions.Beat, error) bool) { yield(store.beats, nil) }, analysis.RateOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A day through the whole chain, from a sensor's bytes to the rate: within 0.02
// s/day of the truth, and inside the stated 95 % interval in 19 of 20 days at the
// least. So too where the counter starts anew, the host's clock is set by 2 s and
// the host sleeps for ten minutes.
func TestARateOverADay(t *testing.T) {
	for name, befall := range map[string]func(*dayOf){
		"undisturbed": func(*dayOf) {},
		"reset, step and sleep": func(d *dayOf) {
			d.clock.Resets = []float64{30000}
			d.host.Steps = []simulate.Step{{At: 50000, By: 2}}
			d.host.Sleeps = []simulate.Span{{From: 60000, To: 60600}}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			seeds, inside := 20, 0
			if testing.Short() {
				seeds = 3
			}
			worst, width, last := 0.0, 0.0, int64(0)
			for seed := range seeds {
				d := aDay(uint64(seed))
				befall(&d)
				f := d.rate(t)
				off := f.Rate.V - d.clock.Rate
				worst = max(worst, max(off, -off))
				if off > 0.02 || off < -0.02 {
					t.Errorf("seed %d: rate %.4f s/day, is off by %.4f", seed, f.Rate.V, off)
				}
				if f.Beats < 84000 || f.TimeBase.Source != "host" {
					t.Errorf("seed %d: %d beats on the time base of the %s, want nearly a day of them on the host's", seed, f.Beats, f.TimeBase.Source)
				}
				if o := f.TimeBase.OffsetPPM; o.V < 3999 || o.V > 4001 {
					t.Errorf("seed %d: the sensor counts %.3f ppm too fast, want 4000", seed, o.V)
				}
				if f.Rate.Low95() <= d.clock.Rate && d.clock.Rate <= f.Rate.High95() {
					inside++
				}
				last, width = f.Beats, f.Rate.Half95()
			}
			if inside < seeds-1 {
				t.Errorf("%d of %d intervals hold the truth, want %d", inside, seeds, seeds-1)
			}
			t.Logf("%d of %d inside, the worst off by %.4f s/day, the last ±%.4f of %d beats", inside, seeds, worst, width, last)
		})
	}
}
