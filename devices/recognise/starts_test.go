package recognise_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/recognise"
	"evenbeat/devices/simulate"
)

// start is the beginning of a session at a beat sensor: how the sensor counts, and how
// the clock beats.
type start struct {
	rate         float64
	bits         int
	beatsPerHour float64
	intervals    bool // the sensor sends the ticks since the last beat
	bare         bool // the lines come without stamps, as if all at once
}

func (s start) String() string {
	kind := "counts"
	if s.intervals {
		kind = "intervals"
	}
	if s.bare {
		kind += " without stamps"
	}
	return fmt.Sprintf("%s of %g Hz in %d bits, %g beats an hour", kind, s.rate, s.bits, s.beatsPerHour)
}

// found returns what is recognised, and after how many lines. The clock is anywhere in
// its day and the counter anywhere in its range. Up to a tenth of the beats are missed,
// and as many have an echo.
func (s start) found(t *testing.T, seed uint64) (string, int) {
	rng := rand.New(rand.NewPCG(seed, 14))
	cfg := simulate.EvenClock(seed)
	cfg.Span, cfg.BeatsPerHour, cfg.CountRate, cfg.CountBits = 3600, s.beatsPerHour, s.rate, s.bits
	cfg.Echo, cfg.Missed = 0.1*rng.Float64(), 0.1*rng.Float64()
	cfg.Jitter, cfg.Offset = 80e-6, 0.01*rng.Float64()
	cfg.ResonatorPPM = 10000*rng.Float64() - 5000
	cfg.Delay = simulate.Delay{Least: 100e-6, Mean: 800e-6, Most: 16e-3}
	clock, err := simulate.NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var r recognise.Recogniser
	n, last := 0, uint64(0)
	from := 1000 * rng.Float64()
	for e := range clock.Beats(from, cfg.Span) {
		number, at := e.Count, e.Arrival
		if s.intervals {
			number, last = (e.Count-last)&(1<<s.bits-1), e.Count
		}
		if s.bare {
			at = 0
		}
		r.Add(devices.Chunk{At: devices.Stamp{Mono: at, UTC: 1772366400e9 + at}, Bytes: fmt.Appendf(nil, "%d\r\n", number)})
		n++
		switch f := r.Finding(); f.State {
		case recognise.Found:
			return f.Candidates[0].Format, n
		case recognise.Noise:
			return "noise", n
		}
	}
	return "nothing", n
}

// However a session begins, the format is the right one. Counts about 1.77·10⁹ could be
// Unix times, and those with an echo among the first could be intervals.
func TestStartsOfBeatSensors(t *testing.T) {
	seeds := uint64(200)
	if testing.Short() {
		seeds = 10
	}
	for _, s := range []start{
		{1e6, 32, 3600, false, false}, {1e6, 32, 7200, false, false}, {1e6, 32, 18000, false, false},
		{1e6, 32, 36000, false, false}, {1e6, 32, 3600, false, true}, {1e6, 32, 18000, false, true},
		{32768, 16, 7200, false, false}, {1e4, 16, 7200, false, true}, {1e6, 24, 7200, false, false},
		{1e3, 32, 7200, false, false}, {1e6, 64, 7200, false, true}, {1e9, 64, 7200, false, false},
		{1e6, 32, 3600, true, false}, {1e6, 32, 18000, true, false}, {32768, 16, 7200, true, false},
		{1e6, 32, 7200, true, true},
	} {
		t.Run(s.String(), func(t *testing.T) {
			t.Parallel()
			want, lines := "count-lines", 0
			if s.intervals {
				want = "interval-lines"
			}
			for seed := range seeds {
				got, n := s.found(t, 7310000+seed)
				if got != want {
					t.Errorf("seed %d: got %s after %d lines, want %s", seed, got, n, want)
				}
				lines += n
			}
			t.Logf("%d starts, %.1f lines to be sure", seeds, float64(lines)/float64(seeds))
		})
	}
}
