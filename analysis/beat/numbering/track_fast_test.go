package numbering

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// events makes up the events of a clock in ticks, with every kind of trouble: beats
// missed, late and early ones, echoes and knocks, stops, scatter up to a twentieth of the
// interval.
func events(seed uint64) []int64 {
	rng := rand.New(rand.NewPCG(seed, 9))
	interval := []float64{125e3, 500e3, 1e6}[seed%3]
	scatter := interval * []float64{0, 0.0005, 0.01, 0.05}[seed%4]
	missed, echoes, late := []float64{0, 0.02, 0.2}[seed/2%3], []float64{0, 0.03}[seed/3%2], []float64{0, 0, 0.1}[seed/5%3]
	at, offset := 1e6, 0.05*interval*rng.Float64()
	var out []int64
	for k := range 6000 {
		if at += interval; rng.IntN(2000) == 0 {
			at += 100 * interval * rng.Float64()
		}
		offset = -offset
		beat := at + offset + scatter*rng.NormFloat64()
		if rng.Float64() < late {
			beat += 0.2 * interval * (rng.Float64() - 0.3)
		}
		if rng.Float64() >= missed {
			out = append(out, int64(beat))
		}
		if rng.Float64() < echoes {
			out = append(out, int64(beat+0.4*interval*rng.Float64()))
		}
		if k == 3000 && seed%5 == 0 {
			out = append(out, out[len(out)-1]) // twice the same
		}
	}
	slices.Sort(out)
	return out
}

// beats numbers events in loads as size tells, and returns what comes of them.
func beats(ts []int64, size func() int) (stretches []Stretch, tally Tally) {
	n := New(Options{TickS: 1e-6, IntervalS: 0, Places: 60, Next: func(s *Stretch) *Stretch {
		c := *s
		c.Missed, c.Off = slices.Clone(s.Missed), slices.Clone(s.Off)
		stretches = append(stretches, c)
		return s
	}})
	for len(ts) > 0 {
		k := min(size(), len(ts))
		if k == 1 {
			n.Add(ts[0], 0)
		} else {
			n.AddAll(ts[:k], func(int) int16 { return 0 })
		}
		ts = ts[k:]
	}
	n.Close()
	return stretches, n.Tally()
}

// The fast twin numbers every event as the plain one does: to the last bit of the
// times, and of the tracking loop's state but for roundings.
func TestFastNumbersAsPlain(t *testing.T) {
	stretches, off := 0, int64(0)
	for seed := range uint64(120) {
		ts := events(seed)
		rng := rand.New(rand.NewPCG(seed, 10))
		want, tally := beats(ts, func() int { return 1 })
		for _, most := range []int{2, 40, 3000} {
			got, other := beats(ts, func() int { return 1 + rng.IntN(most) })
			if math.Abs(other.IntervalS/tally.IntervalS-1) > 1e-12 || math.Abs(other.ScatterTicks-tally.ScatterTicks) > 1e-4 {
				t.Errorf("seed %d, loads of %d: the loop has %g s and %g ticks, one by one %g and %g", seed, most,
					other.IntervalS, other.ScatterTicks, tally.IntervalS, tally.ScatterTicks)
			}
			if other.IntervalS, other.ScatterTicks = tally.IntervalS, tally.ScatterTicks; other != tally {
				t.Errorf("seed %d, loads of %d: %+v, one by one %+v", seed, most, other, tally)
			}
			if !slices.EqualFunc(got, want, same) {
				t.Errorf("seed %d, loads of %d: %d stretches differ from %d one by one", seed, most, len(got), len(want))
			}
		}
		stretches += len(want)
		off += tally.Late + tally.Early
	}
	if stretches < 500 || off < 5000 {
		t.Errorf("%d stretches with %d late or early beats were compared, want 500 with 5000 at least", stretches, off)
	}
}

func same(a, b Stretch) bool {
	return a.Fresh == b.Fresh && a.Segment == b.Segment && a.First == b.First && slices.Equal(a.Missed, b.Missed) && slices.Equal(a.Off, b.Off) &&
		slices.EqualFunc(a.Times[:a.N], b.Times[:b.N], func(x, y float64) bool { return x == y || x != x && y != y })
}
