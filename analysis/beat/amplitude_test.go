package beat

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate"
)

// gated analyses what a simulated clock's light gate sends.
func gated(t *testing.T, c *simulate.Clock, o Options, from, to float64) Result {
	t.Helper()
	o.CountRate, o.CountBits = 1e6, 32
	a, err := NewAnalyser(o)
	if err != nil {
		t.Fatal(err)
	}
	for e := range c.Beats(from, to) {
		a.AddCount(e.Count, e.Edge, false)
	}
	a.Close()
	r, err := a.Result()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// A flag of 5 mm, 0.9 m from the pivot, on the simulated clock's gate: its
// amplitude is found within the stated interval, and the circular error is that of
// the elliptic integral. The simulation takes the flag to pass at the swing's
// greatest speed: over its width that makes the amplitude by the closed form
// greater by x/sin x, x = π·τ/(2T). Both edges of a pass share the simulation's
// jitter, so that whole ticks alone scatter; 2·10⁻⁵ is for the terms left out of x.
func TestAmplitudeFromGate(t *testing.T) {
	held := 0
	for seed := range uint64(40) {
		cfg := simulate.EvenClock(seed)
		cfg.Gate = simulate.Gate{Flag: 5e-3, Distance: 0.9}
		cfg.Amplitude, cfg.Jitter, cfg.Missed, cfg.Knock = simulate.Degrees(1.8+0.04*float64(seed)), 80e-6, 0.01, 0.01
		cfg.Rate, cfg.ResonatorPPM = 0, 3000 // the simulation's speed is that of the nominal interval
		c, err := simulate.NewClock(cfg)
		if err != nil {
			t.Fatal(err)
		}
		r := gated(t, c, Options{NominalInterval: 1, Flag: quantity.Value{V: 5e-3}, FlagDistance: quantity.Value{V: 0.9}}, 0, 1800)
		if r.Amplitude == nil || r.AmplitudeEffect == nil || r.CircularError == nil {
			t.Fatalf("seed %d: no amplitude: %q", seed, r.Warnings)
		}
		x := 5e-3 / 0.9 / 2 / cfg.Amplitude
		want := cfg.Amplitude * x / math.Sin(x) * 180 / math.Pi
		if math.Abs(r.Amplitude.V-want) < r.Amplitude.Half95()+2e-5*want {
			held++
		}
		if math.Abs(r.Amplitude.V/want-1) > 2e-3 {
			t.Errorf("seed %d: amplitude %v, want %g", seed, r.Amplitude, want)
		}
		loss, err := pendulum.CircularError(r.Amplitude.V * math.Pi / 180)
		if err != nil || math.Abs(loss-r.CircularError.V) > 1e-9 {
			t.Errorf("seed %d: circular error %v, want %g (%v)", seed, r.CircularError, loss, err)
		}
	}
	if held < 34 { // binomial, 40 at 95 %: 38 ± 1.4, three sd down
		t.Errorf("%d of 40 intervals hold the amplitude", held)
	}
}

// A pendulum that swings as a sine, its flag's edges solved for exactly: the
// closed form gives the amplitude back, also for a gate off the middle of the swing.
func TestSemiAmplitudeOfASine(t *testing.T) {
	const interval, amp, width, dist = 0.8, 0.05, 0.02, 0.5
	theta := 2 * math.Atan(width/(2*dist))
	for _, off := range []float64{0, 0.01, -0.02} {
		f := gauge(quantity.Value{V: width}, quantity.Value{V: dist})
		in, out := math.Asin((off-theta/2)/amp), math.Asin((off+theta/2)/amp)
		tau := (out - in) * interval / math.Pi
		// Passing from left to right the middle of the flag is at (in+out)/2, back at
		// π less that.
		apart := -4 * interval / math.Pi * (in + out) / 2
		if got := f.semiAmplitude(tau, interval, apart); math.Abs(got/amp-1) > 1e-12 {
			t.Errorf("gate %g rad off: %.15f, want %g", off, got, amp)
		}
	}
}

// As the spring runs down the amplitude falls, and what that explains of the rate
// is told: 3° to 2.4° gains 5400·(3² − 2.4²)·(π/180)² = 5.33 s/day (to second
// order; Beckett, Rudimentary Treatise, 8th ed., p. 34).
func TestAmplitudeChangeExplainsRate(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const interval, n = 1.0, 20000
	a, err := NewAnalyser(Options{NominalInterval: interval, CountRate: 1e6, CountBits: 64,
		Flag: quantity.Value{V: 6e-3, U: 0.02e-3}, FlagDistance: quantity.Value{V: 0.95, U: 1e-3}})
	if err != nil {
		t.Fatal(err)
	}
	theta := 2 * math.Atan(6e-3/2/0.95)
	for k := range n {
		amp := (3 - 0.6*float64(k)/(n-1)) * math.Pi / 180
		half := math.Asin(theta/2/amp) * interval / math.Pi
		mid := 1 + float64(k)*interval
		a.AddCount(uint64((mid-half+40e-6*rng.NormFloat64())*1e6), 1, false)
		a.AddCount(uint64((mid+half+40e-6*rng.NormFloat64())*1e6), 0, false)
	}
	a.Close()
	r, err := a.Result()
	if err != nil {
		t.Fatal(err)
	}
	s := r.AmplitudeEffect
	if s == nil || s.Change == nil || s.Explains == nil {
		t.Fatalf("no change of amplitude: %+v, %q", s, r.Warnings)
	}
	// Falling speed is not quite a straight line in the time of a pass: 0.01°.
	if math.Abs(s.Change.V+0.6) > s.Change.Half95()+0.03 {
		t.Errorf("change %v°, want -0.6", s.Change)
	}
	if math.Abs(s.Explains.V-5.33) > 0.3 {
		t.Errorf("explains %v s/day, want 5.33", s.Explains)
	}
	// 2·5400·a·π/180 at 2.7°: 8.88 s/day a degree.
	if math.Abs(s.PerDegree.V+8.88) > 0.1 {
		t.Errorf("%v s/day a degree, want -8.88", s.PerDegree)
	}
	// The lengths make all the uncertainty: 0.02/6 and 1/950.
	if rel := r.Amplitude.U / r.Amplitude.V; math.Abs(rel-math.Hypot(0.02/6, 1.0/950)) > 2e-4 {
		t.Errorf("relative uncertainty %g", rel)
	}
	if !slices.ContainsFunc(r.Reasons, func(s string) bool { return strings.HasPrefix(s, "The amplitude fell by 0.") }) {
		t.Errorf("not told: %q", r.Reasons)
	}
}

// A steady amplitude is said to be steady; a flag without two edges, and a flag
// that makes a swing no clock has, are warnings; two edges without a flag are told.
func TestSwingInWords(t *testing.T) {
	cfg := simulate.EvenClock(9)
	cfg.Gate, cfg.Jitter = simulate.Gate{Flag: 5e-3, Distance: 0.9}, 80e-6
	c, err := simulate.NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	has := func(list []string, part string) bool {
		return slices.ContainsFunc(list, func(s string) bool { return strings.Contains(s, part) })
	}
	length := func(v float64) quantity.Value { return quantity.Value{V: v} }
	r := gated(t, c, Options{NominalInterval: 1, Flag: length(5e-3), FlagDistance: length(0.9)}, 0, 1200)
	if !has(r.Reasons, "The amplitude held steady over the run") {
		t.Errorf("steady amplitude: %q", r.Reasons)
	}
	r = gated(t, c, Options{NominalInterval: 1}, 0, 1200)
	if r.Amplitude != nil || !has(r.Next, "give the flag's width and its distance from the pivot") {
		t.Errorf("without a flag: %v, %q", r.Amplitude, r.Next)
	}
	r = gated(t, c, Options{NominalInterval: 1, Flag: length(0.09), FlagDistance: length(0.1)}, 0, 1200)
	if r.Amplitude != nil || !has(r.Warnings, "which no clock has") {
		t.Errorf("a wide flag: %v, %q", r.Amplitude, r.Warnings)
	}
	ev, _, _ := clock{interval: 1, beats: 600, jitter: 80e-6}.hear()
	r = analyse(t, Options{NominalInterval: 1, Flag: length(5e-3), FlagDistance: length(0.9)}, ev)
	if r.Amplitude != nil || !has(r.Warnings, "doesn't send two edges a beat") {
		t.Errorf("one edge a beat: %v, %q", r.Amplitude, r.Warnings)
	}
}

func TestFlagIsChecked(t *testing.T) {
	for _, tc := range []struct{ w, d float64 }{{-1, 1}, {0, 1}, {0.005, 0}, {0.9, 0.005}, {math.NaN(), 1}, {0.005, math.Inf(1)}} {
		o := Options{CountRate: 1e6, Flag: quantity.Value{V: tc.w}, FlagDistance: quantity.Value{V: tc.d}}
		if _, err := NewAnalyser(o); err == nil {
			t.Errorf("a flag of %g m at %g m is taken", tc.w, tc.d)
		}
	}
}
