package uncertainty

import (
	"math"
	"strings"
	"testing"
)

// JCGM 100:2008, H.1, the end gauge. Printed: u(d) 9.7 nm, contribution of δθ 16.6,
// of δα 2.9, l 50.000838 mm, u_c 32 nm, ν_eff 16 (16.7; ν_eff from memory). ν_eff
// comes of the unrounded u_c: 32 nm would give 17.5.
func TestPropagateJCGM100H1(t *testing.T) {
	const nm, mm = 1e-9, 1e-3
	ls := Quantity{Name: "l_s", V: 50.000623 * mm, Sources: []Source{{U: 25 * nm, DoF: 18}}}
	d := Quantity{Name: "d", V: 215 * nm, Sources: []Source{{U: 5.8 * nm, DoF: 24}, {U: 3.9 * nm, DoF: 5}, {U: 6.7 * nm, DoF: 8}}}
	alpha := Limit("alpha_s", 11.5e-6, 2e-6, "", "")
	dAlpha := Quantity{Name: "d alpha", Sources: []Source{{U: 1e-6 / math.Sqrt(3), Shape: Rectangular, DoF: 50}}}
	dTheta := Quantity{Name: "d theta", Sources: []Source{{U: 0.05 / math.Sqrt(3), Shape: Rectangular, DoF: 2}}}
	theta := Quantity{Name: "theta", V: -0.1, Sources: []Source{{U: 0.2}, {U: 0.5 / math.Sqrt2}}} // arcsine ±0.5 K: a/√2
	if got := d.U() / nm; math.Abs(got-9.7) > 0.05 {
		t.Errorf("u(d) = %.4f nm, printed 9.7", got)
	}
	l := func(x []float64) float64 { return x[0] + x[1] - x[0]*(x[3]*x[5]+x[2]*x[4]) }
	in := []Quantity{ls, d, alpha, dAlpha, dTheta, theta}
	y, err := Propagate("l", in, l)
	if err != nil {
		t.Fatal(err)
	}
	// l = l_s + d at the estimates, since both products have a factor of zero.
	if got := y.V / mm; math.Abs(got-50.000838) > 5e-7 {
		t.Errorf("l = %.7f mm, printed 50.000838", got)
	}
	if got := y.U() / nm; math.Abs(got-31.664) > 0.005 { // printed 32; recomputed 31.664
		t.Errorf("u_c = %.4f nm, want 31.664 (printed 32)", got)
	}
	if got := effectiveDoF(y.merged()); math.Abs(got-16.75) > 0.01 { // printed 16.7
		t.Errorf("ν_eff = %.3f, want 16.75 (printed 16.7)", got)
	}
	shares, err := Budget(in, l)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range []struct {
		i    int
		want float64
	}{{4, 16.599}, {3, 2.887}} { // printed 16.6 and 2.9
		if got := math.Sqrt(shares[w.i].Share) * y.U() / nm; math.Abs(got-w.want) > 0.001 {
			t.Errorf("contribution of %s = %.4f nm, want %.3f", shares[w.i].Input, got, w.want)
		}
	}
}

// Ten resistors compared with one standard and joined in series: their common
// error adds up in full, 10·u and not √10·u (JCGM 100:2008, 5.2.2, example).
func TestSharedErrorAdds(t *testing.T) {
	var in []Quantity
	for range 10 {
		in = append(in, Quantity{Name: "R", V: 1000, Sources: []Source{{Key: "standard", U: 0.1}}})
	}
	y, err := Propagate("sum", in, func(x []float64) float64 {
		var s float64
		for _, v := range x {
			s += v
		}
		return s
	})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(y.U()-1) > 1e-9 {
		t.Errorf("u = %.6f ohm, printed 1", y.U())
	}
	// And it cancels in a difference: the sign is kept through a second sum.
	z, err := Propagate("difference", []Quantity{y, in[0]}, func(x []float64) float64 { return x[0] - 10*x[1] })
	if err != nil {
		t.Fatal(err)
	}
	if z.U() > 1e-9 {
		t.Errorf("u of the difference = %g, want 0", z.U())
	}
}

// Limits as JCGM 100:2008, 4.3.7 and F.2.2.1 take them: ±20 µm is u = 11.547 µm,
// ±40 is 23.094, ±4 is 2.309; a step of 10 µm is 2.887.
func TestLimitsBecomeStandardUncertainties(t *testing.T) {
	for _, c := range []struct{ limit, step, want float64 }{
		{20, 0, 11.547}, {40, 0, 23.094}, {4, 0, 2.309}, {0, 10, 2.887},
	} {
		q, err := FromReadings("strip", []float64{400}, Instrument{Limit: c.limit, Step: c.step})
		if err != nil {
			t.Fatal(err)
		}
		if got := q.U(); math.Abs(got-c.want) > 5e-4 {
			t.Errorf("limit %g, step %g: u = %.4f, want %.3f", c.limit, c.step, got, c.want)
		}
	}
}

func TestFromReadings(t *testing.T) {
	zero := Quantity{Name: "zero", V: 0.01, Sources: []Source{{Key: "zero", U: 0.004}}}
	q, err := FromReadings("bore", []float64{45.02, 45.06, 45.10}, Instrument{Key: "caliper inside", Limit: 0.04, Step: 0.01, Zero: zero})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(q.V-45.05) > 1e-12 {
		t.Errorf("mean less zero = %v, want 45.05", q.V)
	}
	// By hand: s = 0.04, s/√3 = 0.023094; limit 0.023094; zero 0.004; the spread holds the rounding.
	if want := math.Sqrt(2*0.023094*0.023094 + 0.004*0.004); math.Abs(q.U()-want) > 1e-6 {
		t.Errorf("u = %.6f, want %.6f", q.U(), want)
	}
	if got := Span([]float64{45.02, 45.10, 45.06}); math.Abs(got-0.08) > 1e-12 {
		t.Errorf("span %v, want 0.08", got)
	}
	same, err := FromReadings("strip", []float64{0.41, 0.41, 0.41}, Instrument{Step: 0.01})
	if err != nil {
		t.Fatal(err)
	}
	if want := 0.01 / math.Sqrt(12); math.Abs(same.U()-want) > 1e-9 {
		t.Errorf("equal readings: u = %g, want the resolution's %g", same.U(), want)
	}
	for _, bad := range [][]float64{nil, {1, math.NaN()}, {math.Inf(1)}} {
		if _, err := FromReadings("bore", bad, Instrument{}); err == nil || !strings.Contains(err.Error(), "bore") {
			t.Errorf("%v: error %v does not name the bore", bad, err)
		}
	}
}

func TestPropagateRefuses(t *testing.T) {
	good := Exact("a", 1)
	f := func(x []float64) float64 { return x[0] }
	for _, bad := range []Quantity{
		{Name: "b", V: math.NaN()}, {Name: "b", V: math.Inf(-1)},
		{Name: "b", V: 1, Sources: []Source{{U: math.Inf(1)}}},
		{Name: "b", V: 1, Sources: []Source{{U: 1, Shape: Student}}},
	} {
		if _, err := Propagate("y", []Quantity{good, bad}, f); err == nil || !strings.HasPrefix(err.Error(), "b ") {
			t.Errorf("%+v: error %v does not name b", bad, err)
		}
	}
	if _, err := Propagate("root", []Quantity{Exact("a", -1)}, func(x []float64) float64 { return math.Sqrt(x[0]) }); err == nil {
		t.Error("the root of −1 was answered")
	}
}

// 10 ± 1 and 12 ± 2 by weights of 1/u² are 10.4 ± √(1/(1 + 1/4)) = 0.894. An error that
// both share stays as it is.
func TestCombine(t *testing.T) {
	a := Quantity{V: 10, Sources: []Source{{U: 1}}}
	b := Quantity{V: 12, Sources: []Source{{U: 2}}}
	q := Combine("size", []Quantity{a, b})
	if math.Abs(q.V-10.4) > 1e-12 || math.Abs(q.U()-math.Sqrt(0.8)) > 1e-12 || q.Name != "size" {
		t.Errorf("10(1) and 12(2) are %v with u %v", q.V, q.U())
	}
	shared := Limit("", 5, 3, "jaws", "")
	if q = Combine("", []Quantity{shared, shared, shared}); math.Abs(q.U()-shared.U()) > 1e-12 {
		t.Errorf("three of one error of %v have %v", shared.U(), q.U())
	}
	if q = Combine("", []Quantity{a, Exact("teeth", 11)}); q.V != 11 || q.U() != 0 {
		t.Errorf("with a count: %v, u %v", q.V, q.U())
	}
	for far, want := range map[float64]bool{12.7: true, 15.8: true, 15.9: false, 4.1: false} {
		if o := (Quantity{V: far, Sources: []Source{{U: 2}}}); a.Touches(o) != want || o.Touches(a) != want {
			t.Errorf("10 ± 1.96 and %v ± 3.92 touch: %v", far, !want)
		}
	}
}
