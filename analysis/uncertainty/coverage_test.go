package uncertainty

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

func sources(shape Shape, u ...float64) []Source {
	var out []Source
	for _, v := range u {
		out = append(out, Source{U: v, Shape: shape})
	}
	return out
}

// Closed forms: one rectangle 0.95·√3; two equal ones (a triangle of half-width 2a)
// 2a·(1−√0.05); four equal ones ±3.879 for u = 2 (JCGM 101:2008, 9.2.3, printed
// ±3.88, from memory; Irwin-Hall 3.87941); the normal 1.95996; Student with 2
// degrees of freedom 4.30 (JCGM 100:2008, table G.2), with 9, 2.26.
func TestCoverageClosedForms(t *testing.T) {
	for _, c := range []struct {
		name    string
		sources []Source
		want    float64
		within  float64
	}{
		{"nothing", nil, 1.959964, 1e-6},
		{"one rectangle", sources(Rectangular, 2), 0.95 * math.Sqrt(3), 1e-9},
		{"two rectangles", sources(Rectangular, 1, 1), math.Sqrt(3) * 2 * (1 - math.Sqrt(0.05)) / math.Sqrt2, 1e-3},
		{"four rectangles", sources(Rectangular, 1, 1, 1, 1), 3.87941 / 2, 1e-3},
		{"normal", sources(Normal, 1, 2, 3), 1.959964, 1e-6},
		{"three readings", []Source{{U: 1, Shape: Student, DoF: 2}}, 4.30, 0.005},
		{"ten readings", []Source{{U: 1, Shape: Student, DoF: 9}}, 2.26, 0.005},
	} {
		if got := Coverage(c.sources); math.Abs(got-c.want) > c.within {
			t.Errorf("%s: K = %.6f, want %.6f ± %g", c.name, got, c.want, c.within)
		}
	}
}

// How often the interval holds the truth when the scatter must be found from few
// readings: the mean's error is drawn with a true scatter, the scatter found with
// as many readings (χ²), and the interval made of that. Limits are drawn as such.
// One standard deviation of the share is 0.2 % for 10,000 rounds; with 40,000 the
// shares were 94.6 % (neither rules) to 95.2 %.
func TestCoverageHoldsTruth(t *testing.T) {
	n := 10_000
	if testing.Short() {
		n = 2_000
	}
	for _, c := range []struct {
		name    string
		limits  []float64 // half-widths
		scatter float64   // true standard deviation of the mean
		dof     float64   // 0: known for certain
	}{
		{"limit ruling a known scatter", []float64{1.7}, 0.1, 0},
		{"limit with a whisper", []float64{1.7}, 0.003, 0},
		{"known scatter ruling a limit", []float64{0.3}, 1, 0},
		{"unequal limits", []float64{1.7, 0.9, 0.2, 0.02}, 0, 0},
		{"limit ruling five readings", []float64{1.7}, 0.2, 4},
		{"limit ruling three readings", []float64{1.7}, 0.1, 2},
		{"limit beside five readings", []float64{1.7}, 1, 4},
		{"five readings ruling a limit", []float64{0.4}, 1, 4},
		{"five readings", nil, 1, 4},
	} {
		rng := rand.New(rand.NewPCG(7, 7))
		chi := distuv.ChiSquared{K: max(c.dof, 1), Src: rng}
		var held int
		for range n {
			q := Quantity{}
			truth := 0.0
			for _, a := range c.limits {
				truth += a * (2*rng.Float64() - 1)
				q.Sources = append(q.Sources, Source{U: a / math.Sqrt(3), Shape: Rectangular})
			}
			truth += c.scatter * rng.NormFloat64()
			bell := Source{U: c.scatter}
			if c.dof > 0 {
				bell = Source{U: c.scatter * math.Sqrt(chi.Rand()/c.dof), Shape: Student, DoF: c.dof}
			}
			q.Sources = append(q.Sources, bell)
			if q.Value().Covers(truth) {
				held++
			}
		}
		got := float64(held) / float64(n)
		t.Logf("%s: %.2f %%", c.name, 100*got)
		if slack := 0.01 + 4*math.Sqrt(0.95*0.05/float64(n)); math.Abs(got-0.95) > slack {
			t.Errorf("%s: the interval holds the truth in %.2f %%", c.name, 100*got)
		}
	}
}

// JCGM 101:2008, 9.2.3: four rectangular quantities of standard deviation 1 have
// u = 2.00 and a 95 % interval of ±3.88, where a normal one would be ±3.92 (from
// memory; Irwin-Hall gives ±3.87941).
func TestMonteCarloJCGM101FourRectangles(t *testing.T) {
	var in []Quantity
	for range 4 {
		in = append(in, Limit("x", 0, math.Sqrt(3), "", ""))
	}
	sum := func(x []float64) float64 { return x[0] + x[1] + x[2] + x[3] }
	d, err := MonteCarlo(1_000_000, 1, in, sum)
	if err != nil {
		t.Fatal(err)
	}
	// Of a million draws: u has a standard deviation of 0.0013, an end 0.005.
	if math.Abs(d.U-2) > 0.006 || math.Abs(d.Mean) > 0.01 {
		t.Errorf("mean %.4f, u %.4f, want 0 and 2", d.Mean, d.U)
	}
	if math.Abs(d.High-3.88) > 0.02 || math.Abs(d.Low+3.88) > 0.02 {
		t.Errorf("interval %.3f to %.3f, want ±3.88", d.Low, d.High)
	}
	if w := d.ShortHigh - d.ShortLow; w > d.High-d.Low || math.Abs(w-7.76) > 0.03 {
		t.Errorf("shortest interval %.3f wide, want 7.76 and no more than the symmetric one", w)
	}
	again, err := MonteCarlo(1_000_000, 1, in, sum)
	if err != nil || again != d {
		t.Errorf("the same seed gave %+v (%v)", again, err)
	}
}

// A shared error drawn once a round must cancel in a difference.
func TestMonteCarloSharesErrors(t *testing.T) {
	in := []Quantity{Limit("a", 3, 1, "jaw", ""), Limit("b", 2, 1, "jaw", "")}
	d, err := MonteCarlo(1000, 1, in, func(x []float64) float64 { return x[0] - x[1] })
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(d.Mean-1) > 1e-9 || d.U > 1e-9 {
		t.Errorf("difference %v, u %v: want 1 and 0", d.Mean, d.U)
	}
}

func TestMonteCarloRefuses(t *testing.T) {
	in := []Quantity{Limit("a", 0, 1, "", "")}
	id := func(x []float64) float64 { return x[0] }
	for _, n := range []int64{-1, 0, 999, MaxDraws + 1} {
		if _, err := MonteCarlo(n, 1, in, id); err == nil {
			t.Errorf("%d draws were taken", n)
		}
	}
	_, err := MonteCarlo(1000, 1, in, func([]float64) float64 { return math.NaN() })
	if !errors.Is(err, ErrLost) {
		t.Errorf("a sum without values: %v", err)
	}
	half, err := MonteCarlo(1000, 1, in, func(x []float64) float64 { return math.Sqrt(x[0] + 0.5) })
	if err != nil || half.Lost < 150 || half.Lost > 350 { // a quarter of the draws lie below −0.5
		t.Errorf("a sum lost below −0.5: %+v, %v", half, err)
	}
}

func BenchmarkCoverage(b *testing.B) {
	s := append(sources(Rectangular, 1, 0.5, 0.1), Source{U: 0.3, Shape: Student, DoF: 4})
	b.ReportAllocs()
	for b.Loop() {
		Coverage(s)
	}
}
