package simulate

import (
	"math"
	"slices"
	"testing"
)

func TestSameSeedSameBytes(t *testing.T) {
	bytes := func(seed uint64) []byte {
		var all []byte
		c := newClock(t, func(cfg *ClockConfig) { cfg.Seed = seed })
		for _, line := range c.Lines(3*day, 3*day+600) {
			all = append(all, line...)
		}
		return all
	}
	first := bytes(5)
	if again := bytes(5); !slices.Equal(again, first) {
		t.Error("seed 5 twice gives different bytes")
	}
	if slices.Equal(bytes(6), first) {
		t.Error("seeds 5 and 6 give the same bytes")
	}
}

func TestOverlappingSpansAgree(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) { cfg.Echo, cfg.Knock, cfg.Flicker = 0.1, 0.1, 20e-6 })
	var whole, part []Event
	for e := range c.Beats(0, 3000) {
		e.Arrival = 0 // may be held up by a byte before the span
		if e.At >= 1000.5 && e.At < 1900.25 {
			whole = append(whole, e)
		}
	}
	for e := range c.Beats(1000.5, 1900.25) {
		e.Arrival = 0
		part = append(part, e)
	}
	if len(part) < 900 || !slices.Equal(whole, part) {
		t.Errorf("%d events of the whole, %d of the part, or they differ", len(whole), len(part))
	}
}

// The three clocks of one scene, dial, beats and counter, tell the same time.
func TestDialBeatsAndCounterAgree(t *testing.T) {
	for seed := range uint64(20) {
		c := newClock(t, func(cfg *ClockConfig) {
			cfg.Seed = seed
			cfg.ResonatorPPM = 3000 * (1 - 2*float64(seed%2))
			cfg.Jitter, cfg.Offset, cfg.Wheels = 0, 0, nil
			cfg.Echo, cfg.Knock = 0, 0
		})
		from := float64(seed) * 30000
		tick := 1 / (c.cfg.CountRate * (1 + c.cfg.ResonatorPPM*1e-6))
		var first, last Event
		var counted uint64
		n := 0
		for e := range c.Beats(from, from+7200) { // the counter wraps at 4295 s
			if n == 0 {
				first, last = e, e
			}
			counted += uint64(uint32(e.Count - last.Count))
			last = e
			n++
		}
		span := last.At - first.At
		if math.Abs(float64(counted)*tick-span) > 2*tick {
			t.Errorf("seed %d: counter says %.6f s, truth %.6f", seed, float64(counted)*tick, span)
		}
		// Beats without errors of their own are the dial: n intervals gained over the
		// true time are the change of its error. 1e-9 s is the float error of a week.
		gained := float64(last.Beat-first.Beat)*c.cfg.Interval() - span
		if want := c.DialError(last.At) - c.DialError(first.At); math.Abs(gained-want) > 1e-8 {
			t.Errorf("seed %d: beats gained %.9f s, the dial %.9f", seed, gained, want)
		}
		// One beat in a hundred is missed: within five binomial deviations.
		want := float64(last.Beat-first.Beat+1) * 0.99
		if math.Abs(float64(n)-want) > 5*math.Sqrt(want*0.01) {
			t.Errorf("seed %d: %d beats heard of %d", seed, n, last.Beat-first.Beat+1)
		}
	}
}

func TestOutOfBeatShowsInTheIntervals(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.Rate, cfg.Amplitude, cfg.Offset = 0, Degrees(2), Degrees(0.1)
	})
	at := map[int64]float64{}
	for e := range c.Beats(100, 200) {
		at[e.Beat] = e.At
	}
	// 63.69 ms for T 1 s, A 2°, ε 0.1°: (4T/π)·asin(ε/A), by hand. The interval
	// after an even beat is the longer one.
	diff := (at[151] - at[150]) - (at[152] - at[151])
	if math.Abs(diff-0.06369) > 5e-6 {
		t.Errorf("tick and tock differ by %.6f s, want 0.06369", diff)
	}
	if got := c.TickTock(150); math.Abs(got-diff) > 1e-9 {
		t.Errorf("told difference %.9f, shown %.9f s", got, diff)
	}
}

func TestWheelErrorFollowsTheBeats(t *testing.T) {
	wheel := Wheel{Beats: 60, Amplitude: 0.5e-3, Phase: 0.7}
	// A clock that gains much keeps its wheels in step with its beats.
	even := newClock(t, func(cfg *ClockConfig) { quiet(cfg); cfg.Rate = 1000 })
	bent := newClock(t, func(cfg *ClockConfig) { quiet(cfg); cfg.Rate = 1000; cfg.Wheels = []Wheel{wheel} })
	at := map[int64]float64{}
	for e := range even.Beats(0, 7200) {
		at[e.Beat] = e.At
	}
	var in, out float64
	n := 0
	for e := range bent.Beats(0, 7200) {
		if e.Beat < 60 || e.Beat >= 7200-7200%60 {
			continue // whole turns only, so that the sums below are orthogonal
		}
		s, c := math.Sincos(2 * math.Pi * float64(e.Beat) / 60)
		in += (e.At - at[e.Beat]) * s
		out += (e.At - at[e.Beat]) * c
		n++
	}
	amplitude, phase := 2*math.Hypot(in, out)/float64(n), math.Atan2(out, in)
	if math.Abs(amplitude-wheel.Amplitude) > 1e-8 || math.Abs(phase-wheel.Phase) > 1e-4 {
		t.Errorf("amplitude %g s, phase %g; want %g, %g", amplitude, phase, wheel.Amplitude, wheel.Phase)
	}
}

func TestSpuriousEventsAndOrder(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) {
		cfg.Jitter, cfg.Missed, cfg.Echo, cfg.Knock = 0.1, 0.1, 0.05, 0.05
	})
	var beats, echoes, extra int
	var last Event
	var lastBeat Event
	for e := range c.Beats(0, 20000) {
		if e.At < last.At || e.Arrival < last.Arrival {
			t.Fatalf("beat %d at %g s after one at %g s", e.Beat, e.At, last.At)
		}
		late := float64(e.Arrival)*1e-9 - e.At
		if late < 100e-6 || e.Arrival != last.Arrival && late > 16e-3+1e-6 {
			t.Fatalf("beat %d arrives %g s late, want 0.1 to 16 ms", e.Beat, late)
		}
		switch {
		case !e.Spurious:
			beats++
			lastBeat = e
		case e.Beat == lastBeat.Beat && e.At-lastBeat.At >= 3e-3 && e.At-lastBeat.At <= 30e-3:
			echoes++
		default:
			extra++
		}
		last = e
	}
	// Five binomial deviations about 18,000 beats, 900 echoes, 1000 knocks (of which
	// 3 in 100 fall where an echo would).
	for _, c := range []struct {
		what      string
		got       int
		want, dev float64
	}{
		{"beats", beats, 18000, 43}, {"echoes", echoes, 925, 32}, {"knocks", extra, 975, 32},
	} {
		if math.Abs(float64(c.got)-c.want) > 5*c.dev {
			t.Errorf("%s: %d, want about %g", c.what, c.got, c.want)
		}
	}
}

func TestCounterWidthsAndReset(t *testing.T) {
	for _, bits := range []int{16, 24, 32, 64} {
		c := newClock(t, func(cfg *ClockConfig) { cfg.CountBits, cfg.Resets = bits, []float64{500} })
		var before, after Event
		for e := range c.Beats(0, 1000) {
			if bits < 64 && e.Count >= 1<<bits {
				t.Fatalf("%d bits: count %d", bits, e.Count)
			}
			if e.At < 500 {
				before = e
			} else if after.At == 0 {
				after = e
			}
		}
		if want := uint64((after.At - 500) * 1e6 * 1.003); bits >= 24 && max(want, after.Count)-min(want, after.Count) > 1 {
			t.Errorf("%d bits: first count after the reset %d (before %d), want %d", bits, after.Count, before.Count, want)
		}
	}
}

func TestGateTellsTheAmplitude(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) {
		quiet(cfg)
		cfg.Gate = Gate{Flag: 0.005, Distance: 0.9}
	})
	var in Event
	n := 0
	for e := range c.Beats(59.5, 119.5) { // begins between two beats
		if e.Edge == 1 {
			in = e
			continue
		}
		n++
		// A = w/(Δt·(π/T)·l): the flag's width over the time it blocks is its speed.
		a := 0.005 / ((e.At - in.At) * math.Pi * 0.9)
		if want := c.Amplitude(e.At); math.Abs(a/want-1) > 1e-6 {
			t.Fatalf("gate says %g rad, truth %g", a, want)
		}
	}
	if n < 59 || n > 61 {
		t.Errorf("%d beats in a minute, want about 60", n)
	}
	if got := string(Event{Count: 42, Edge: 1, HasEdge: true}.AppendLine(nil)); got != "42,1\r\n" {
		t.Errorf("line %q", got)
	}
}

func TestJitterIsWhite(t *testing.T) {
	c := newClock(t, func(cfg *ClockConfig) { quiet(cfg); cfg.Jitter, cfg.Rate = 1e-3, 0 })
	var sq, lag, last float64
	n := 0.0
	for e := range c.Beats(10, 20000) {
		x := e.At - float64(e.Beat)
		sq += x * x
		lag += x * last
		last = x
		n++
	}
	if sd := math.Sqrt(sq / n); math.Abs(sd/1e-3-1) > 5*math.Sqrt(0.5/n) {
		t.Errorf("jitter %g s, want 1e-3", sd)
	}
	if r := lag / sq; math.Abs(r) > 5/math.Sqrt(n) {
		t.Errorf("neighbours correlate by %g", r)
	}
}

func BenchmarkBeatsOfAnHour(b *testing.B) {
	c := newClock(b, nil)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		for range c.Lines(day, day+3600) {
			n++
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "beats/s")
}
