package analysis

import (
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"

	"evenbeat/analysis/stability"
	"evenbeat/sessions"
)

func tausOf(t testing.TB, text string) stability.Taus {
	t.Helper()
	taus, err := stability.ParseTaus(text)
	if err != nil {
		t.Fatal(err)
	}
	return taus
}

// unevenFile writes n counts of a made-up half-seconds clock with 0.1 ms of scatter,
// whose rate wanders; tick and tock lie apart seconds apart. Some beats are missed, some
// events spurious; from the beats in restarts on the counter begins anew.
func unevenFile(n int, apart float64, restarts ...int) string {
	rng := rand.New(rand.NewPCG(41, 1))
	var f strings.Builder
	at, origin, rate := 0.0, 50.0, 1e-4
	for k := range n {
		at += 0.5 * (1 - rate)
		rate += 2e-9 * rng.NormFloat64()
		jitter, lot, early := 1e-4*rng.NormFloat64(), rng.IntN(300), 0.3*rng.Float64()
		for _, r := range restarts {
			if k == r {
				// It begins with noise, a little before the beat.
				origin = 1 - at
				fmt.Fprintln(&f, int64((origin+at-0.11)*1e6))
			}
		}
		if lot == 0 {
			continue
		}
		fmt.Fprintln(&f, int64((origin+at+jitter+apart/4*float64(1-2*(k&1)))*1e6))
		if lot == 1 {
			fmt.Fprintln(&f, int64((origin+at+0.05+early)*1e6))
		}
	}
	return f.String()
}

// The overlapping deviations are those that the rate tells, from the same beats: same
// terms and figures where none is thinned. Beyond, rate leaves out the same number.
func TestStabilityIsRates(t *testing.T) {
	text := unevenFile(30_000, 0.02)
	o := RateOptions{BeatsPerHour: 7200}
	rate, err := RateFile(strings.NewReader(text), o)
	if err != nil {
		t.Fatal(err)
	}
	got, err := StabilityFile(strings.NewReader(text), o, tausOf(t, "octave"))
	if err != nil {
		t.Fatal(err)
	}
	if len(rate.Stability) < 12 || len(got.Rows) < len(rate.Stability) {
		t.Fatalf("%d rows, rate has %d", len(got.Rows), len(rate.Stability))
	}
	for i, want := range rate.Stability {
		row, loss := got.Rows[i], 1e-6
		if i > 5 {
			loss = 0.05 // other terms are left out
		}
		if math.Abs(row.TauS/want.TauS-1) > 1e-12 || math.Abs(*row.OADev/want.ADev-1) > loss || i <= 5 && row.N != want.N {
			t.Errorf("tau %g: got %g of %d; rate has %g of %d at %g", row.TauS, *row.OADev, row.N, want.ADev, want.N, want.TauS)
		}
		if i <= 5 && (math.Abs(*row.Low/want.Low-1) > 1e-6 || math.Abs(*row.High/want.High-1) > 1e-6) {
			t.Errorf("tau %g: got %g to %g, want %g to %g", row.TauS, *row.Low, *row.High, want.Low, want.High)
		}
	}
}

// A clock out of beat has the table of the same clock in beat, at odd multiples of the
// beat too, and over a break after which the beats' numbers are others.
func TestStabilityOutOfBeat(t *testing.T) {
	taus := tausOf(t, "1,2,3,7,15,101,480,1001")
	for _, restarts := range [][]int{nil, {7001, 15_500}, {7000, 15_501}} {
		want, err := StabilityFile(strings.NewReader(unevenFile(30_000, 0, restarts...)), RateOptions{BeatsPerHour: 7200}, taus)
		if err != nil {
			t.Fatal(err)
		}
		got, err := StabilityFile(strings.NewReader(unevenFile(30_000, 0.08, restarts...)), RateOptions{BeatsPerHour: 7200}, taus)
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range want.Rows {
			g := got.Rows[i]
			for name, p := range map[string][2]*float64{"adev": {g.ADev, w.ADev}, "oadev": {g.OADev, w.OADev}, "mdev": {g.MDev, w.MDev},
				"tdev": {g.TDev, w.TDev}, "hdev": {g.HDev, w.HDev}, "ohdev": {g.OHDev, w.OHDev}} {
				// MDEV of 3·101 beats and more always meets a gap. How far tick and tock
				// lie apart is known to 1/√1024 of the scatter, in the one as in the other;
				// without taking it out tau 0.5 s would be off by a factor of 300.
				if p[0] == nil && p[1] == nil && w.TauS > 50 && strings.Contains("mdev tdev", name) {
					continue
				}
				if math.Abs(*p[0]/(*p[1])-1) > 5e-3 {
					t.Errorf("restarts %v, tau %g: %s %g out of beat, %g in beat", restarts, w.TauS, name, *p[0], *p[1])
				}
			}
			if g.Noise != w.Noise || g.N != w.N {
				t.Errorf("restarts %v, tau %g: %q of %d out of beat, %q of %d in beat", restarts, w.TauS, g.Noise, g.N, w.Noise, w.N)
			}
		}
		if !strings.Contains(strings.Join(got.Warnings, "\n"), "tick less tock") {
			t.Errorf("nothing told of tick and tock: %q", got.Warnings)
		}
	}
}

// reaches returns how many segments the terms keep to: each begins and ends with m
// places that have none on their other side, so that from m = 1 to m = 33 a segment
// without gaps loses 2·32 terms.
func reaches(t *testing.T, r stability.Result) float64 {
	t.Helper()
	if len(r.Rows) != 2 {
		t.Fatalf("%d rows, want 2", len(r.Rows))
	}
	return float64(r.Rows[0].N-r.Rows[1].N) / 64
}

// No term reaches over a break, whatever befalls device and host.
func TestStabilitySegments(t *testing.T) {
	for _, tc := range []struct {
		name     string
		b        listening
		segments float64
	}{
		{"plain", listening{}, 1},
		{"device reset", listening{resetAt: 3000}, 2},
		{"host clock stepped", listening{stepAt: 4000}, 1},
		{"ten minutes asleep", listening{sleepAt: 5000}, 2},
		{"all of it", listening{resetAt: 2000, stepAt: 4000, sleepAt: 6000}, 3},
		{"at once", listening{resetAt: 100}, 2},
		{"two edges", listening{edges: true, resetAt: 3000}, 2},
	} {
		seeds := uint64(10)
		if testing.Short() {
			seeds = 3
		}
		for seed := range seeds {
			b := tc.b
			b.ppm, b.duration, b.jitter, b.counts, b.seed = 4000, 9000, 100e-6, true, seed
			ses := sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}
			r, err := Stability(sessions.Clock{BeatsPerHour: 3600}, ses, b.beats(), RateOptions{}, tausOf(t, "1,33"))
			if err != nil {
				t.Fatal(err)
			}
			if got := reaches(t, r); got != tc.segments {
				t.Errorf("%s, seed %d: the terms keep to %g segments, want %g", tc.name, seed, got, tc.segments)
			}
		}
	}
	// By the host's stamps alone there is nothing to restart.
	r, err := Stability(sessions.Clock{BeatsPerHour: 3600}, sessions.Session{}, listening{duration: 9000, resetAt: 3000, seed: 1}.beats(), RateOptions{}, tausOf(t, "1,33"))
	if err != nil || reaches(t, r) != 1 {
		t.Errorf("by stamps alone: %v", err)
	}
}

// Rows and warnings name the same times, true ones, whatever the device counts.
func TestStabilityWarnsOfItsRows(t *testing.T) {
	b := listening{ppm: 4000, duration: 9000, jitter: 100e-6, counts: true, seed: 1}
	r, err := Stability(sessions.Clock{BeatsPerHour: 3600}, sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}, b.beats(), RateOptions{}, stability.Octave())
	if err != nil {
		t.Fatal(err)
	}
	var taus []string
	for _, row := range r.Rows {
		taus = append(taus, fmt.Sprintf("%.4g", row.TauS))
	}
	told := 0
	for _, w := range r.Warnings {
		if _, rest, ok := strings.Cut(w, "from tau "); ok {
			tau, _, _ := strings.Cut(rest, " ")
			if told++; !slices.Contains(taus, tau) {
				t.Errorf("%q: the rows are at %q", w, taus)
			}
		}
	}
	if told == 0 {
		t.Errorf("no time is named in %q", r.Warnings)
	}
}

// A break that times and numbers hide: noise half a beat after the last one heard, and
// again half a beat before the next, so that by a count that stood still meanwhile the
// two are neighbours.
func TestStabilityHiddenBreak(t *testing.T) {
	var beats []sessions.Beat
	var f strings.Builder
	add := func(count, at int) {
		beats = append(beats, sessions.Beat{Count: uint64(count), HostMono: int64(at) * 1000, HostUTC: int64(at) * 1000})
		fmt.Fprintln(&f, count)
	}
	const s = 1_000_000
	for k := range 1000 {
		add(90*s+k*s+k*7919%101, k*s)
	}
	add(90*s+1000*s-s/2, 1000*s-s/2)
	for k := range 1000 {
		if at := 2000*s + k*s; k == 0 {
			add(s/2, at+s/2)
		} else {
			add(k*s+k*7919%101, at)
		}
	}
	for name, find := range map[string]func() (stability.Result, error){
		"session": func() (stability.Result, error) {
			all := func(yield func([]sessions.Beat, error) bool) { yield(beats, nil) }
			return Stability(sessions.Clock{BeatsPerHour: 3600}, sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}, all, RateOptions{}, tausOf(t, "1,33"))
		},
		"file": func() (stability.Result, error) {
			return StabilityFile(strings.NewReader(f.String()), RateOptions{BeatsPerHour: 3600, CountBits: 64}, tausOf(t, "1,33"))
		},
	} {
		if r, err := find(); err != nil || reaches(t, r) != 2 {
			t.Errorf("%s: %+v, %v; want terms that keep to two segments", name, r.Rows, err)
		}
	}
}

// A clock stopped for less than eight beats, and one of which too little is heard.
func TestStabilitySparse(t *testing.T) {
	var f strings.Builder
	for k := range 6000 {
		if k > 2000 && k < 2040 && k%4 != 0 || k > 4000 && k < 4009 {
			continue
		}
		fmt.Fprintln(&f, int64(float64(k)*1.0001e6)+int64(k*7919%101))
	}
	r, err := StabilityFile(strings.NewReader(f.String()), RateOptions{BeatsPerHour: 3600}, tausOf(t, "1,33"))
	if err != nil {
		t.Fatal(err)
	}
	// Three stretches; of every fourth beat some are taken before they are too few, and
	// make a few terms more at m = 33.
	if got := reaches(t, r); got < 2.8 || got > 3 {
		t.Errorf("the terms keep to %g segments, want 3", got)
	}
}

func TestStabilityRefuses(t *testing.T) {
	if _, err := StabilityFile(strings.NewReader("1\n"), RateOptions{}, stability.All()); err == nil || !strings.Contains(err.Error(), "write octave") {
		t.Errorf("all taus: %v", err)
	}
	if _, err := StabilityFile(strings.NewReader("1\n2\n"), RateOptions{}, stability.Octave()); err == nil {
		t.Error("two beats make a table")
	}
	if _, err := StabilityFile(strings.NewReader("1\n2\nthree\n"), RateOptions{}, stability.Octave()); err == nil {
		t.Error("a bad line was taken")
	}
	broken := func(yield func([]sessions.Beat, error) bool) { yield(nil, fmt.Errorf("torn")) }
	if _, err := Stability(sessions.Clock{}, sessions.Session{}, broken, RateOptions{}, stability.Octave()); err == nil || err.Error() != "torn" {
		t.Errorf("a torn book: %v", err)
	}
}

// TestStabilityMemory: ten times the beats take no more memory, but for what grows with
// the logarithm.
func TestStabilityMemory(t *testing.T) {
	taken := func(n int) uint64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		if _, err := Stability(sessions.Clock{BeatsPerHour: 7200}, sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}, steadyBeats(n), RateOptions{}, tausOf(t, "octave")); err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	taken(1000)
	if day, days := taken(50_000), taken(500_000); days > day+day/4 {
		t.Errorf("%d bytes for 50000 beats, %d for 500000", day, days)
	}
}

// steadyBeats is n beats of a half-seconds clock, in one chunk used again and again.
func steadyBeats(n int) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		rng := rand.New(rand.NewPCG(5, 5))
		chunk := make([]sessions.Beat, 0, 1000)
		for k := range n {
			at := 1e6 + float64(k)*0.5e6 + 80*rng.NormFloat64()
			mono := int64(at)*1000 + 300_000
			chunk = append(chunk, sessions.Beat{Count: uint64(at) & math.MaxUint32, HostMono: mono, HostUTC: 1_700_000_000_000_000_000 + mono})
			if len(chunk) == cap(chunk) {
				if !yield(chunk, nil) {
					return
				}
				chunk = chunk[:0]
			}
		}
	}
}

// BenchmarkStability is a session of beats as they come out of a book.
func BenchmarkStability(b *testing.B) {
	const n = 1_000_000
	ses := sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}
	for _, taus := range []string{"octave", "decade", "7,480"} {
		b.Run(taus, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r, err := Stability(sessions.Clock{BeatsPerHour: 7200}, ses, steadyBeats(n), RateOptions{}, tausOf(b, taus))
				if err != nil || len(r.Rows) < 2 {
					b.Fatal(len(r.Rows), err)
				}
			}
			b.ReportMetric(n*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
		})
	}
}
