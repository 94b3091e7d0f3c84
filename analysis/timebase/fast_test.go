package timebase

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"evenbeat/sessions"
)

// sensor makes up n beats of a microsecond counter of 32 bits, eight a second, whose
// lines come 0.2 to 0.5 ms late, with all that can go wrong if troubled.
func sensor(seed uint64, n int, troubled bool) []sessions.Beat {
	rng := rand.New(rand.NewPCG(seed, 8))
	beats := make([]sessions.Beat, n)
	at, base, asleep, set := int64(4_290_000_000), int64(0), int64(0), int64(0)
	for i := range beats {
		at += 124_900 + rng.Int64N(200)
		late := 200_000 + rng.Int64N(300_000)
		broken := false
		if troubled {
			switch rng.IntN(400) {
			case 0:
				base = at - 5 // the counter starts anew
			case 1:
				set += rng.Int64N(4e9) - 2e9 // the host's clock is set
			case 2:
				asleep += 3e11 // the host slept, the sensor did not
				at += 3e8
			case 3:
				late += 6e9 // the host was busy
			case 4:
				broken = true
			case 5:
				at += 5e9 // longer than a whole turn of the counter
			}
		}
		mono := at*1000 + late - asleep
		beats[i] = sessions.Beat{Count: uint64(at-base) & 0xffffffff, HostMono: mono, HostUTC: mono + 1_700_000_000_000_000_000 + set + asleep, Break: broken}
	}
	return beats
}

// Beats joined by the run, whatever happens among them, have the ticks, joints and
// fit of beats joined one by one.
func TestRunIsNext(t *testing.T) {
	for seed := range uint64(200) {
		for _, bits := range []int{0, 32, 64} {
			beats := sensor(seed, 3000, true)
			one, many := Counter{Rate: 1e6, Bits: bits}, Counter{Rate: 1e6, Bits: bits}
			var f, g Line
			ticks := make([]int64, len(beats))
			joined := 0
			for i := 0; i < len(beats); i++ {
				n := many.Run(beats[i:], ticks[i:])
				g.AddRun(beats[i:i+n], ticks[i:], 1e-6)
				for _, b := range beats[i : i+n] {
					want, j := one.Next(b.Count, b.HostMono, b.HostUTC, b.Break)
					f.Add(float64(want)*1e-6, b.HostMono, b.HostUTC, false)
					if j != Joined || ticks[i] != want {
						t.Fatalf("seed %d, %d bits, beat %d: %d ticks by the run, %d (joint %d) one by one", seed, bits, i, ticks[i], want, j)
					}
					i++
				}
				joined += n
				if i == len(beats) {
					break
				}
				b := beats[i]
				want, j := one.Next(b.Count, b.HostMono, b.HostUTC, b.Break)
				got, k := many.Next(b.Count, b.HostMono, b.HostUTC, b.Break)
				if got != want || k != j {
					t.Fatalf("seed %d, %d bits, beat %d after a run: %d ticks, joint %d; one by one %d, %d", seed, bits, i, got, k, want, j)
				}
				f.Add(float64(want)*1e-6, b.HostMono, b.HostUTC, j != Joined)
				g.Add(float64(got)*1e-6, b.HostMono, b.HostUTC, j != Joined)
			}
			if bits == 32 && joined < len(beats)/2 {
				t.Errorf("seed %d: only %d of %d beats were joined by the run", seed, joined, len(beats))
			}
			a, c := f.Base(Host{Synced: true}, 400), g.Base(Host{Synced: true}, 400)
			if a != c {
				t.Errorf("seed %d, %d bits: base %+v by the run, %+v one by one", seed, bits, c, a)
			}
		}
	}
}

// In a window of many events only some are asked how late they came: they are the same
// ones however the events are taken, and they tell the truth as well.
func TestFewAreAsked(t *testing.T) {
	beats := sensor(3, 200_000, false)
	ticks := make([]int64, len(beats))
	var one, whole Line
	c := Counter{Rate: 1e6, Bits: 32}
	for i, b := range beats {
		ticks[i], _ = c.Next(b.Count, b.HostMono, b.HostUTC, false)
		one.Add(float64(ticks[i])*1e-6, b.HostMono, b.HostUTC, i == 0)
	}
	whole.Add(float64(ticks[0])*1e-6, beats[0].HostMono, beats[0].HostUTC, true)
	rng := rand.New(rand.NewPCG(3, 9))
	for i := 1; i < len(beats); {
		n := min(len(beats)-i, 1+rng.IntN(700))
		whole.AddRun(beats[i:i+n], ticks[i:], 1e-6)
		i += n
	}
	a, ok := one.Offset()
	b, _ := whole.Offset()
	if !ok || a != b {
		t.Errorf("offset %v ppm one by one, %v in runs", a, b)
	}
	if last := one.seg[len(one.seg)/2]; last.n < 2*askAll {
		t.Errorf("%d events in a window: too few for the test", last.n)
	}
	if math.Abs(a.V) > a.Half95() { // the sensor counts as the host does
		t.Errorf("offset %v ppm", a)
	}
}

func BenchmarkRun(b *testing.B) {
	beats := sensor(1, 1<<17, false)
	ticks := make([]int64, 512)
	b.ReportAllocs()
	for b.Loop() {
		c := Counter{Rate: 1e6, Bits: 32}
		var f Line
		first, _ := c.Next(beats[0].Count, beats[0].HostMono, beats[0].HostUTC, false)
		f.Add(float64(first)*1e-6, beats[0].HostMono, beats[0].HostUTC, true)
		for part := range slices.Chunk(beats[1:], len(ticks)) {
			if n := c.Run(part, ticks); n != len(part) {
				b.Fatalf("%d of %d joined", n, len(part))
			}
			f.AddRun(part, ticks, 1e-6)
		}
	}
	b.ReportMetric(float64(len(beats))*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}
