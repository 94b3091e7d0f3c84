package uncertainty

import (
	"math"
	"testing"
)

// By hand: sets of 0, 1 and 3 steps of scatter. The bore's is an outlier, and left out:
// the rest has √((4·0 + 2·1)/6) = 0.577.
func TestPool(t *testing.T) {
	strip, height, bore := []float64{4, 4, 4, 4, 4}, []float64{220, 221, 222}, []float64{400, 430, 460}
	for _, c := range []struct {
		name   string
		sets   [][]float64
		s, dof float64
	}{
		{"an even part", [][]float64{height, strip}, math.Sqrt(2.0 / 6), 6},
		{"a bore out of round", [][]float64{bore, height, strip}, math.Sqrt(2.0 / 6), 6},
		{"all the same", [][]float64{strip}, 0, 4},
		{"read once", [][]float64{{7}, {8}}, 0, 0},
		{"nothing", nil, 0, 0},
	} {
		if got := Pool("c", 1, c.sets); math.Abs(got.S-c.s) > 1e-12 || got.DoF != c.dof {
			t.Errorf("%s: %+v, want s %.4f with %g degrees of freedom", c.name, got, c.s, c.dof)
		}
	}
}

// What a zero reading has of the scatter: all that several things show, half the variance
// of one.
func TestOfInstrument(t *testing.T) {
	strip, height := []float64{4, 4, 5, 5}, []float64{220, 220, 221, 221}
	one, two := Pool("c", 1, [][]float64{strip}), Pool("c", 1, [][]float64{strip, height})
	if got := one.OfInstrument(); math.Abs(got.S*got.S-1.0/6) > 1e-12 || got.DoF != 3 || got.Key != "c" {
		t.Errorf("one thing: %+v, want a variance of 1/6", got)
	}
	if got := two.OfInstrument(); got != two {
		t.Errorf("two things: %+v, want %+v", got, two)
	}
}

// A single reading carries the instrument's scatter. Of the rounding of 1/√12 = 0.289, what
// doesn't show in the scatter is common to all readings. One that scatters by more than
// the instrument has its own, 30/√3 with two degrees of freedom.
func TestReadingsByTheirInstrument(t *testing.T) {
	for _, c := range []struct {
		name     string
		readings []float64
		repeat   Scatter
		u        []float64
		dof      float64
	}{
		{"one reading", []float64{5}, Scatter{Key: "c", S: 0.6, DoF: 9, sets: 3}, []float64{0.6}, 9},
		{"three equal ones", []float64{5, 5, 5}, Scatter{Key: "c", S: 0.6, DoF: 9, sets: 3}, []float64{0.6 / math.Sqrt(3)}, 9},
		{"a finer instrument", []float64{5, 5}, Scatter{Key: "c", S: 0.1, DoF: 9, sets: 3}, []float64{0.1 / math.Sqrt2, math.Sqrt(1.0/12 - 0.01)}, 9},
		{"out of round", []float64{370, 400, 430}, Scatter{Key: "c", S: 0.6, DoF: 9, sets: 3}, []float64{30 / math.Sqrt(3)}, 2},
		{"an unknown instrument", []float64{5}, Scatter{}, []float64{math.Sqrt(1.0 / 12)}, 0},
	} {
		q, err := FromReadings("bore", c.readings, Instrument{Step: 1, Repeat: c.repeat})
		if err != nil || len(q.Sources) != len(c.u) {
			t.Errorf("%s: %+v, %v, want u %v", c.name, q.Sources, err, c.u)
			continue
		}
		for i, s := range q.Sources {
			if math.Abs(s.U-c.u[i]) > 1e-12 {
				t.Errorf("%s: u %g, want %g", c.name, s.U, c.u[i])
			}
		}
		if got := q.Sources[0].DoF; got != c.dof {
			t.Errorf("%s: %g degrees of freedom, want %g", c.name, got, c.dof)
		}
	}
}

// Two errors of one estimate of nine degrees of freedom have nine together, where those of
// two estimates have 18 (JCGM 100:2008, G.4.1, which is of independent estimates). Drawn
// together they are too large or too small together.
func TestOneEstimateOfScatter(t *testing.T) {
	of := func(a, b string) []Source {
		return []Source{{U: 1, Shape: Student, DoF: 9, Estimate: a}, {U: 1, Shape: Student, DoF: 9, Estimate: b}}
	}
	for _, c := range []struct {
		a, b string
		want float64
	}{{"c", "c", 9}, {"c", "d", 18}, {"", "", 18}} {
		if got := effectiveDoF(of(c.a, c.b)); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("estimates %q and %q: %g degrees of freedom, want %g", c.a, c.b, got, c.want)
		}
	}
	in := []Quantity{{Name: "a", Sources: of("c", "")[:1]}, {Name: "b", Sources: of("c", "")[:1]}}
	sum := func(x []float64) float64 { return x[0] + x[1] }
	d, err := MonteCarlo(200_000, 3, in, sum)
	// √2 times the 97.5 % quantile of Student's t with 9 degrees of freedom, 2.262; with 18
	// it is 2.101. One standard deviation of an end is 0.009.
	if want := math.Sqrt2 * 2.262; err != nil || math.Abs(d.High-want) > 0.03 || math.Abs(d.Low+want) > 0.03 {
		t.Errorf("%.3f to %.3f, %v, want ±%.3f", d.Low, d.High, err, want)
	}
}
