package going

import (
	"math"
	"testing"
	"time"

	"evenbeat/analysis/pendulum"
	"evenbeat/sessions"
)

// TestHeatFollowsPressure is the printed lesson of the Hong Kong Observatory's
// report for 1916, p. 156: least squares over a year gave 0.676 s/day for an inch
// of mercury and next to nothing for a degree, and the report says that heat
// followed pressure so closely that the two could not be told apart, 0.676 being
// twice what theory has. A year of simulated air in which each does what it does
// there, a clock that feels both, and no seed may call either real.
func TestHeatFollowsPressure(t *testing.T) {
	for seed := range uint64(20) {
		tr := made{days: 360, every: 3, rate: 0.5, phase: 0.3, wander: 0.01, u: 0.1}.clock(seed)
		for i := range tr.in.Air {
			a := &tr.in.Air[i]
			season := math.Cos(2 * math.Pi * a.At.Sub(begin).Hours() / 24 / 365)
			// Weather leaves a little of its own in both.
			own := (a.TemperatureC - 18) / 3
			a.TemperatureC = 22 - 7*season + own
			a.PressureHPa = 1010 + 8*season + own/2
		}
		for i := range tr.in.Checks {
			// −0.0118 s/day/hPa (0.4 s/day an inch, as adopted there) and −0.1 s/day/K,
			// summed over the season.
			d := tr.in.Checks[i].At.Sub(begin).Hours() / 24
			tr.in.Checks[i].ErrorS += (-0.0118*8 + 0.1*7) * 365 / (2 * math.Pi) * math.Sin(2*math.Pi*d/365)
		}
		r := analyse(t, tr.in)
		if len(r.Factors) != 2 {
			t.Fatalf("seed %d: factors %+v", seed, r.Factors)
		}
		for _, f := range r.Factors {
			if f.Significant {
				t.Errorf("seed %d: %s is called real: %+v", seed, f.Name, f.PerUnit)
			}
		}
		if !contains(r.Reasons, "Temperature and pressure went together too closely (correlation -0.9") {
			t.Errorf("seed %d: collinearity is not told: %q", seed, r.Reasons)
		}
	}
}

// TestPressureFound: a clock with the barometric coefficient of printed ones (0.37
// s/day an inch, 0.0109 s/day/hPa: Monthly Notices of the RAS 33, 1873, pp. 293 to
// 296) and a good escapement, ninety days of weather.
func TestPressureFound(t *testing.T) {
	perHPa := -0.37 / 33.8639
	found := 0
	for seed := range uint64(20) {
		tr := made{days: 90, every: 1, rate: 0.2, phase: 0.05, wander: 0.003, perHPa: perHPa, u: 0.03}.clock(seed)
		r := analyse(t, tr.in)
		for _, f := range r.Factors {
			if f.Name == pressure && f.Significant {
				found++
			}
			if f.Name == pressure && f.Unit != "hPa" || f.Name == temperature && f.Unit != "K" {
				t.Errorf("%s for each %s", f.Name, f.Unit)
			}
		}
	}
	if found < 18 {
		t.Errorf("found in %d of 20 records", found)
	}
}

// TestNothingAccused: clocks that feel neither heat nor air pressure nor their
// spring. Each factor may be called real by chance in 1.25 % (severalLooked); the
// count must not be above what the binomial makes of that, three standard
// deviations.
func TestNothingAccused(t *testing.T) {
	accused, tried := 0, 0
	for seed := range uint64(100) {
		tr := made{days: 30, every: 1, rate: 5, phase: 0.4, wander: 0.05, u: 0.3, windEvery: 7}.clock(1000 + seed)
		for _, f := range analyse(t, tr.in).Factors {
			tried++
			if f.Significant {
				accused++
			}
		}
	}
	if most := 0.0125*float64(tried) + 3*math.Sqrt(0.0125*0.9875*float64(tried)); tried < 290 || float64(accused) > most {
		t.Errorf("%d of %d accused, at most %.0f", accused, tried, most)
	}
	t.Logf("%d of %d accused", accused, tried)
}

// TestBeyondPhysics: an effect of the wrong sign, however plain, is no effect of
// pressure.
func TestBeyondPhysics(t *testing.T) {
	tr := made{days: 60, every: 1, rate: 1, phase: 0.05, perHPa: +0.06, u: 0.05}.clock(3)
	r := analyse(t, tr.in)
	for _, f := range r.Factors {
		if f.Name == pressure && (f.Significant || f.PerUnit.Covers(0)) {
			t.Errorf("got %+v", f)
		}
	}
	if !contains(r.Reasons, "physics allows -0.020 to -0.005") {
		t.Errorf("%q", r.Reasons)
	}
}

// TestNothingRealBesideTheImpossible: something that isn't recorded comes and goes with
// the air's pressure, and with some of the room's heat, and gains the clock far more than
// the air makes it lose. The fit puts it down to what is recorded: both coefficients are
// wrong, and one is impossible. Neither is real.
func TestNothingRealBesideTheImpossible(t *testing.T) {
	impossible, wrong := 0, 0
	for seed := range uint64(40) {
		m := made{days: 60, every: 1, rate: 1, phase: 0.1, wander: 0.01, perK: -0.5, perHPa: -0.012, u: 0.1}
		tr := m.clock(seed)
		hidden, next := 0.0, 0
		for _, a := range tr.in.Air {
			for next < len(tr.in.Checks) && !tr.in.Checks[next].At.After(a.At) {
				tr.in.Checks[next].ErrorS += hidden
				next++
			}
			hidden += (0.06*(a.PressureHPa-1013) + 0.15*(a.TemperatureC-18)) / 8
		}
		r := analyse(t, tr.in)
		heat, press := factorNamed(r, temperature), factorNamed(r, pressure)
		if !heat.PerUnit.Covers(m.perK) {
			wrong++
		}
		if press.PerUnit.Covers(0) || press.PerUnit.Low95() < 0 {
			continue
		}
		impossible++
		if heat.Significant || press.Significant {
			t.Errorf("seed %d: called real beside %+v: %+v", seed, press.PerUnit, heat)
		}
		if !contains(r.Matters, "no effect found with it is called real") || contains(r.Reasons, "The effect is real") {
			t.Errorf("seed %d: the reason isn't told: %q, %q", seed, r.Matters, r.Reasons)
		}
	}
	if impossible < 38 || wrong < 38 {
		t.Errorf("of 40 fits %d are impossible and %d wrong of heat: the clocks don't show what is asked", impossible, wrong)
	}
}

// TestTheImpossibleIsRare: where the model lacks nothing, and each effect is one that physics
// allows, an interval of 95 % lies beyond that by chance in 2.5 % at the most. Three factors,
// and three standard deviations of the binomial.
func TestTheImpossibleIsRare(t *testing.T) {
	const seeds = 100
	lacks := 0
	for seed := range uint64(seeds) {
		r := analyse(t, made{days: 30, every: 1, rate: 2, phase: 0.3, wander: 0.02, perK: -0.5, perHPa: -0.012, perHour: -0.004, u: 0.2, windEvery: 7}.clock(2000+seed).in)
		if contains(r.Matters, "physics allows") {
			lacks++
		}
	}
	if most := 7.5 + 3*math.Sqrt(7.5*0.925); float64(lacks) > most {
		t.Errorf("%d of %d records, at most %.0f", lacks, seeds, most)
	}
	t.Logf("%d of %d records lack something", lacks, seeds)
}

// TestRunDown: wound every week, a clock that loses as its spring runs down is
// told by the winding; wound never, it can't be told from the passing of time.
func TestRunDown(t *testing.T) {
	m := made{days: 42, every: 1, rate: 3, phase: 0.1, wander: 0.01, perHour: -0.02, u: 0.1, windEvery: 7}
	r := analyse(t, m.clock(4).in)
	f := factorNamed(r, winding)
	if f == nil || !f.Significant || !f.PerUnit.Covers(-0.02) || f.Unit != "h" {
		t.Errorf("got %+v", f)
	}
	m.days, m.windEvery = 7, 20
	if r = analyse(t, m.clock(4).in); factorNamed(r, winding) != nil || !contains(r.Reasons, "not wound between checks") {
		t.Errorf("one winding: %q", r.Reasons)
	}
}

func factorNamed(r Result, name string) *Factor {
	for i := range r.Factors {
		if r.Factors[i].Name == name {
			return &r.Factors[i]
		}
	}
	return nil
}

// TestAmplitude: the circular error of a swing that goes up and down about 2.5°:
// 5400·a² s/day (Beckett, Rudimentary Treatise, 8th ed., p. 34), so −8.2 s/day
// for a degree there.
func TestAmplitude(t *testing.T) {
	m := made{days: 40, every: 1, rate: 0, phase: 0.1, u: 0.1}
	tr := m.clock(8)
	lost := 0.0
	for i := range tr.in.Checks {
		tr.in.Checks[i].ErrorS -= lost
		for h := range 24 {
			a := 2.5 + 0.3*math.Sin(2*math.Pi*(float64(i)+float64(h)/24)/9)
			if h%6 == 0 {
				tr.in.Amplitudes = append(tr.in.Amplitudes, Sample{At: tr.in.Checks[i].At.Add(time.Duration(h) * time.Hour), Value: a})
			}
			rad := a * math.Pi / 180
			lost += 5400 * rad * rad / 24
		}
	}
	f := factorNamed(analyse(t, tr.in), amplitude)
	if f == nil || !f.Significant || f.Unit != "deg" || !f.PerUnit.Covers(-8.22) {
		t.Errorf("got %+v", f)
	}
}

// TestHeatAgainstRod: what a bare brass rod does (−0.78 s/day/K, Beckett p. 53) is
// real on brass, and not to be had from invar.
func TestHeatAgainstRod(t *testing.T) {
	tr := made{days: 60, every: 1, rate: 0, phase: 0.1, perK: -0.778, u: 0.1}.clock(5)
	for rod, want := range map[string]bool{"brass": true, "invar": false, "": true} {
		in := tr.in
		if rod != "" {
			p, err := pendulum.ParseRod(rod)
			if err != nil {
				t.Fatal(err)
			}
			in.Rod = &p
		}
		if f := factorNamed(analyse(t, in), temperature); f == nil || f.Significant != want {
			t.Errorf("%s: got %+v", rod, f)
		}
	}
}

func TestSignal(t *testing.T) {
	s := sampled([]float64{2, 0, 1, 1, 10}, []float64{4, 0, 1, 3, 7})
	for _, c := range []struct{ a, b, integral, known float64 }{
		{0, 2, 1 + 3, 2},           // two straight pieces; the doubled sample is 2
		{0.5, 1.5, 0.75 + 1.25, 1}, // halves of each
		{2, 5, 6, 1.5},             // one sample holds for half the longest gap
		{-9, -8, 0, 0},
		{-2, 0, 0, 1.5}, // before the first, too
		{9, 12, 7 * 2.5, 2.5},
	} {
		if integral, known := s.over(c.a, c.b); math.Abs(integral-c.integral) > 1e-12 || math.Abs(known-c.known) > 1e-12 {
			t.Errorf("%g to %g: got %g over %g days, want %g over %g", c.a, c.b, integral, known, c.integral, c.known)
		}
	}
	w := sinceWinding([]float64{1, 3}, 5)
	if integral, known := w.over(0, 4); math.Abs(integral-(48+12)) > 1e-12 || known != 3 {
		t.Errorf("since winding: %g over %g days, want 60 over 3", integral, known)
	}
}

func TestGapInTheAir(t *testing.T) {
	tr := made{days: 30, every: 1, rate: 5, phase: 0.1, perK: -0.5, u: 0.1}.clock(2)
	tr.in.Air = tr.in.Air[:len(tr.in.Air)/3]
	r := analyse(t, tr.in)
	if len(r.Factors) != 0 || !contains(r.Reasons, "too little to look for its effect") {
		t.Errorf("%+v, %q", r.Factors, r.Reasons)
	}
	tr.in.Air = []sessions.Air{{At: begin.AddDate(-1, 0, 0), HasTemperature: true}}
	if r = analyse(t, tr.in); !contains(r.Reasons, "Nothing is recorded of temperature") {
		t.Errorf("%q", r.Reasons)
	}
}
