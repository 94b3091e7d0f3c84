package simulate

import (
	"math"
	"strings"
	"testing"
)

func newClock(t testing.TB, change func(*ClockConfig)) *Clock {
	t.Helper()
	cfg := DefaultClock(1)
	if change != nil {
		change(&cfg)
	}
	c, err := NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// quiet makes the clock an even one, so that the figure under test stands alone.
func quiet(c *ClockConfig) { *c = EvenClock(c.Seed) }

func TestDialIsTheIntegralOfTheRate(t *testing.T) {
	for seed := range uint64(20) {
		c := newClock(t, func(cfg *ClockConfig) {
			cfg.Seed = seed
			cfg.Stops = []Span{{3 * day, 3*day + 7200}}
			cfg.Turns = []Turn{{5 * day, -0.5}}
		})
		sum, from, to := 0.0, 12345.0, 6.9*day
		// Middle sums of five seconds are exact for straight lines; no cell edge falls
		// inside a step, since both ends are whole multiples of 5.
		for s := from; s < to; s += 5 {
			sum += c.RateAt(s+2.5) * 5 / 86400
		}
		got := c.DialError(to) - c.DialError(from)
		// 120,000 terms of at most 5 s: rounding stays far below a microsecond.
		if math.Abs(got-sum) > 1e-6 {
			t.Fatalf("seed %d: the dial gained %.9f s, its rate says %.9f", seed, got, sum)
		}
		if mean := c.MeanRate(from, to); math.Abs(mean-86400*sum/(to-from)) > 1e-6 {
			t.Fatalf("seed %d: mean rate %.9f, want %.9f s/day", seed, mean, 86400*sum/(to-from))
		}
	}
}

func TestWindingRestoresTheArc(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.TorqueEnd, cfg.Run = 0.5, 8*day
		cfg.Wound = []float64{-3 * day, 4 * day}
	})
	full := c.Config().Amplitude
	// Seven days of eight: the torque has fallen by 7/16, the arc goes with its root.
	low := full * math.Sqrt(1-7.0/16)
	if got := c.Amplitude(4*day - 1e-6); math.Abs(got-low) > 1e-9 {
		t.Errorf("just before winding: %g rad, want %g", got, low)
	}
	if got := c.Amplitude(4 * day); got != full {
		t.Errorf("just wound: %g rad, want %g", got, full)
	}
	// The clock gains by what the smaller arc loses less; by the arithmetic-geometric
	// mean, to the float error of a day.
	lost := func(a float64) float64 { return 86400 * (1 - agm(1, math.Cos(a/2))) }
	for _, before := range []float64{1e-6, 60, 3 * day} {
		gain := c.RateAt(4*day-before) - c.RateAt(4*day)
		if want := lost(full) - lost(c.Amplitude(4*day-before)); math.Abs(gain-want) > 1e-6 {
			t.Errorf("gain %g s before winding %g s/day, want %g", before, gain, want)
		}
	}
}

func TestRodLagsBehindTheAir(t *testing.T) {
	const lag = 7200.0
	c := newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.Rate, cfg.Temperature, cfg.RodLag = 0, -0.5, lag
	})
	rod := func(t float64) float64 { return 20 - c.RateAt(t)/0.5 }
	// It warms by the difference over the lag: the sum of that over a day by minutes
	// is good to half a minute in two hours, 0.4 %, of what passed to and fro.
	sum, most := 0.0, 0.0
	for at := 2 * day; at < 2.25*day; at += 60 {
		sum += (c.Air(at+30).TemperatureC - rod(at+30)) * 60 / lag
		most = max(most, math.Abs(sum))
	}
	if got := rod(2.25*day) - rod(2*day); most < 0.3 || math.Abs(got-sum) > 0.01*most {
		t.Errorf("the rod warmed by %g K, by its lag %g (at most %g)", got, sum, most)
	}
}

func TestClockRunsDownAndStands(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.Rate, cfg.Run, cfg.Wound = 0, 2*day, []float64{0, 3 * day}
		cfg.Stops = []Span{{3600, 3600 + 600}}
	})
	if got := c.DialError(day); math.Abs(got+600) > 1e-6 {
		t.Errorf("stopped for ten minutes: dial %g s, want -600", got)
	}
	if got := c.DialError(3*day) - c.DialError(2*day); math.Abs(got+86400) > 1e-6 {
		t.Errorf("a day run down: dial went by %g s, want -86400", got)
	}
	for e := range c.Beats(2*day, 3*day) {
		t.Fatalf("beat %d at %g s while the spring is down", e.Beat, e.At)
	}
	for e := range c.Beats(3600, 4200) {
		t.Fatalf("beat %d at %g s while the clock is stopped", e.Beat, e.At)
	}
	if c.Amplitude(2.5*day) != 0 || c.RateAt(2.5*day) != -86400 {
		t.Errorf("standing: amplitude %g, rate %g", c.Amplitude(2.5*day), c.RateAt(2.5*day))
	}
	n := 0
	for range c.Beats(3*day, 3*day+100) {
		n++
	}
	if n < 99 || n > 101 {
		t.Errorf("%d beats in 100 s after winding, want about 100", n)
	}
}

func TestNutTemperatureAndPressure(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.Turns = []Turn{{2 * day, 0.25}}
	})
	if step := c.RateAt(2*day) - c.RateAt(2*day-1e-3); math.Abs(step-0.25*c.Config().Nut) > 1e-9 {
		t.Errorf("a quarter turn: %g s/day, want %g", step, 0.25*c.Config().Nut)
	}
	// Half a millimetre on 994 mm: 43200·0.5/994 = 21.73 s/day.
	if n := c.Config().Nut; math.Abs(n-21.73) > 0.005 {
		t.Errorf("nut of 0.5 mm: %g s/day a turn, want 21.73", n)
	}
	c = newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.Temperature, cfg.Pressure, cfg.RodLag = RodCoefficient(11.5e-6), -0.011, 0
	})
	for _, at := range []float64{0, day / 3, 2.77 * day, 7 * day} {
		air := c.Air(at)
		want := c.Config().Rate - 0.4968*(air.TemperatureC-20) - 0.011*(air.PressureHPa-1013.25)
		if got := c.RateAt(at); math.Abs(got-want) > 1e-9 {
			t.Errorf("at %g s: rate %g, want %g", at, got, want)
		}
	}
}

func TestRoomIsPlausible(t *testing.T) {
	for seed := range uint64(20) {
		c := newClock(t, func(cfg *ClockConfig) { cfg.Seed = seed })
		var low, high float64 = 99, -99
		last := c.Air(0)
		for at := 60.0; at < 8*day; at += 60 {
			air := c.Air(at)
			low, high = min(low, air.TemperatureC), max(high, air.TemperatureC)
			if air.PressureHPa < 950 || air.PressureHPa > 1060 || air.HumidityPct < 5 || air.HumidityPct > 95 {
				t.Fatalf("seed %d at %g s: %+v", seed, at, air)
			}
			if d := math.Abs(air.PressureHPa - last.PressureHPa); d > 0.2 {
				t.Fatalf("seed %d at %g s: pressure jumped by %g hPa in a minute", seed, at, d)
			}
			last = air
		}
		if low < 10 || high > 30 || high-low < 2 {
			t.Errorf("seed %d: temperature from %g to %g °C", seed, low, high)
		}
	}
}

func TestWalkGrowsAsConfigured(t *testing.T) {
	const n = 400
	sum := 0.0
	for seed := range uint64(n) {
		c := newClock(t, func(cfg *ClockConfig) {
			quiet(cfg)
			cfg.Seed, cfg.Walk, cfg.Span = seed, 0.3, day
		})
		d := c.RateAt(day) - c.RateAt(0)
		sum += d * d
	}
	// Variance of n normal values: spread √(2/n), five of it.
	if got := math.Sqrt(sum / n); math.Abs(got/0.3-1) > 5*math.Sqrt(0.5/n) {
		t.Errorf("after a day: standard deviation %.4f s/day, want 0.3", got)
	}
}

func TestReadDialScatters(t *testing.T) {
	c := newClock(t, nil)
	sum := 0.0
	const n = 2000
	for i := range n {
		at := 100 * float64(i)
		read := c.ReadDial(at)
		if again := c.ReadDial(at); again != read {
			t.Fatalf("at %g s: read as %g s, then as %g", at, read, again)
		}
		d := read - c.DialError(at)
		sum += d * d
	}
	if got := math.Sqrt(sum / n); math.Abs(got/0.1-1) > 5*math.Sqrt(0.5/n) {
		t.Errorf("scatter %.4f s, want 0.1", got)
	}
}

func TestClockConfigErrors(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*ClockConfig)
		want   string
	}{
		{"no beats", func(c *ClockConfig) { c.BeatsPerHour = 0 }, "beats per hour is 0: must be from 360 to 72000"},
		{"not a number", func(c *ClockConfig) { c.Rate = math.NaN() }, "rate (s/day) is NaN: must be from -5000 to 5000"},
		{"infinite walk", func(c *ClockConfig) { c.Walk = math.Inf(1) }, "walk (s/day) is +Inf"},
		{"endless", func(c *ClockConfig) { c.Span = 1e12 }, "span (s) is 1e+12"},
		{"counter", func(c *ClockConfig) { c.CountBits = 31 }, "counter of 31 bits: must be 16, 24, 32 or 64"},
		{"wheel", func(c *ClockConfig) { c.Wheels = []Wheel{{Beats: 0, Amplitude: 1e-3}} }, "wheel of 0 beats"},
		{"wild wheel", func(c *ClockConfig) { c.Wheels = []Wheel{{Beats: 60, Amplitude: 1}} }, "wheel errors of 1 s together"},
		{"stop", func(c *ClockConfig) { c.Stops = []Span{{60, 0}} }, "stop from 60 to 0 s: must end after it begins"},
		{"late", func(c *ClockConfig) { c.Wound = []float64{math.Inf(1)} }, "event at +Inf s"},
		{"nut", func(c *ClockConfig) { c.Turns = []Turn{{0, math.NaN()}} }, "NaN turns of the nut"},
		{"gate", func(c *ClockConfig) { c.Gate = Gate{Flag: 0.01} }, "must be farther out than it is wide"},
	} {
		cfg := DefaultClock(1)
		c.change(&cfg)
		_, err := NewClock(cfg)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", c.name, err, c.want)
		}
	}
}

func BenchmarkNewClock(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := NewClock(DefaultClock(1)); err != nil {
			b.Fatal(err)
		}
	}
}
