package uncertainty

import (
	"errors"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// published reads the columns of a table under testdata/published.
func published(t *testing.T, name string) [][]float64 {
	t.Helper()
	text, err := os.ReadFile("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var columns [][]float64
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		words := strings.Fields(line)
		if columns == nil {
			columns = make([][]float64, len(words))
		}
		for i, w := range words {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			columns[i] = append(columns[i], v)
		}
	}
	if columns == nil {
		t.Fatalf("%s: no table", name)
	}
	return columns
}

// digits is the number of leading digits in which got agrees with want.
func digits(got, want float64) float64 {
	if got == want {
		return 16
	}
	return -math.Log10(math.Abs(got-want) / math.Abs(want))
}

// NIST StRD Norris, certified values. Twelve digits are asked: double precision
// loses about one to the centring and two to the subtraction of a slope near 1.
func TestLineNorris(t *testing.T) {
	c := published(t, "nist_norris.txt")
	fit, err := Line(c[0], c[1])
	if err != nil {
		t.Fatal(err)
	}
	b0, b1 := fit.Coefficient(0), fit.Coefficient(1)
	for _, w := range []struct {
		name      string
		got, want float64
	}{
		{"B0", b0.V, -0.262323073774029}, {"sd B0", b0.U, 0.232818234301152},
		{"B1", b1.V, 1.00211681802045}, {"sd B1", b1.U, 0.000429796848199937},
		{"residual sd", fit.ResidualSD, 0.884796396144373},
		{"sum of squares", fit.SumSquares, 26.6173985294224},
		{"R²", fit.R2, 0.999993745883712},
	} {
		if d := digits(w.got, w.want); d < 12 {
			t.Errorf("%s = %.15g, certified %.15g: %.1f digits", w.name, w.got, w.want, d)
		}
	}
}

// NIST StRD Longley, certified values. The centred and scaled columns have a
// condition of about 100, so that of 16 digits more than ten must come through.
func TestMultipleLongley(t *testing.T) {
	c := published(t, "nist_longley.txt")
	fit, err := Multiple(c[:6], c[6])
	if err != nil {
		t.Fatal(err)
	}
	want := []float64{-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683,
		-1.03322686717359, -0.0511041056535807, 1829.15146461355}
	sd := []float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699,
		0.214274163161675, 0.226073200069370, 455.478499142212}
	for i := range want {
		b := fit.Coefficient(i)
		if d := digits(b.V, want[i]); d < 10 {
			t.Errorf("B%d = %.15g, certified %.15g: %.1f digits", i, b.V, want[i], d)
		}
		if d := digits(b.U, sd[i]); d < 10 {
			t.Errorf("sd of B%d = %.15g, certified %.15g: %.1f digits", i, b.U, sd[i], d)
		}
	}
	if d := digits(fit.ResidualSD, 304.854073561965); d < 10 {
		t.Errorf("residual sd = %.15g, certified 304.854073561965", fit.ResidualSD)
	}
	if d := digits(fit.R2, 0.995479004577296); d < 10 {
		t.Errorf("R² = %.15g, certified 0.995479004577296", fit.R2)
	}
}

// JCGM 100:2008, H.3: printed y1 −0.1712, s 0.0029; y2 0.00218, s 0.00067; r −0.930;
// s 0.0035; b(30) −0.1494, u 0.0041.
func TestLineJCGM100H3(t *testing.T) {
	c := published(t, "jcgm100_h3.txt")
	theta := make([]float64, len(c[0]))
	for i, x := range c[0] {
		theta[i] = x - 20
	}
	fit, err := Line(theta, c[1])
	if err != nil {
		t.Fatal(err)
	}
	y1, y2, b30 := fit.Coefficient(0), fit.Coefficient(1), fit.At(10)
	r := fit.Cov[0][1] / (y1.U * y2.U)
	for _, w := range []struct {
		name      string
		got, want float64
		printed   float64 // half of the last printed digit
	}{
		{"y1", y1.V, -0.1712, 5e-5}, {"s(y1)", y1.U, 0.0029, 5e-5},
		{"y2", y2.V, 0.00218, 5e-6}, {"s(y2)", y2.U, 0.00067, 5e-6},
		{"r", r, -0.930, 5e-4}, {"s", fit.ResidualSD, 0.0035, 5e-5},
		{"b(30)", b30.V, -0.1494, 5e-5}, {"u(b(30))", b30.U, 0.0041, 5e-5},
	} {
		if math.Abs(w.got-w.want) > w.printed {
			t.Errorf("%s = %.9g, printed %g", w.name, w.got, w.want)
		}
	}
	// Student's factor for 9 degrees of freedom is 2.262 (JCGM 100:2008, table G.2: 2.26).
	if math.Abs(y1.K-2.26) > 0.005 {
		t.Errorf("coverage factor %.4f, table G.2 has 2.26", y1.K)
	}
}

func TestFitRefuses(t *testing.T) {
	for _, c := range []struct {
		name    string
		columns [][]float64
		y       []float64
		want    string
	}{
		{"no column", nil, []float64{1, 2, 3}, "at least one column"},
		{"too few", [][]float64{{1, 2}}, []float64{1, 2}, "3 are needed"},
		{"lengths", [][]float64{{1, 2}}, []float64{1, 2, 3}, "same"},
		{"NaN", [][]float64{{1, 2, math.NaN()}}, []float64{1, 2, 3}, "point 3 is NaN"},
		{"infinite y", [][]float64{{1, 2, 3}}, []float64{1, math.Inf(1), 3}, "point 2 is +Inf"},
		{"equal x", [][]float64{{2, 2, 2}}, []float64{1, 2, 3}, "never changes"},
		{"same column twice", [][]float64{{1, 2, 3, 5}, {2, 4, 6, 10}}, []float64{1, 2, 3, 4}, "can't be told apart"},
	} {
		_, err := Multiple(c.columns, c.y)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	if _, err := Line([]float64{2, 2, 2}, []float64{1, 2, 3}); !errors.Is(err, ErrCollinear) {
		t.Errorf("equal x: %v does not wrap ErrCollinear", err)
	}
}
