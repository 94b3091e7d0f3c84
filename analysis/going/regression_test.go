package going

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"evenbeat/devices/quantity"
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

// regression is plain least squares by the filter of the going: a clock that doesn't
// wander, checks of equal weight, and coefficients without priors. The phase at the
// run's start, of which nothing is known, is the intercept.
type regression struct {
	estimate
	sumSquares, sd, r2 float64
}

func regress(t *testing.T, columns [][]float64, y []float64) regression {
	t.Helper()
	n, k := len(y), len(columns)
	o := observations{t: make([]float64, n), u: make([]float64, n), fresh: make([]bool, n)}
	o.fresh[0] = true
	for range columns {
		o.priors = append(o.priors, math.Inf(1))
	}
	mean := 0.0
	for i := range y {
		row := []float64{y[i]}
		for _, c := range columns {
			row = append(row, c[i])
		}
		o.rows, o.u[i] = append(o.rows, row), 1
		mean += y[i] / float64(n)
	}
	e, ok := o.regress(noise{})
	if !ok {
		t.Fatal("no fit")
	}
	r := regression{estimate: e}
	total := 0.0
	for i := range y {
		x := make([]float64, k)
		for j, c := range columns {
			x[j] = c[i]
		}
		d := y[i] - r.at(x...).V
		r.sumSquares += d * d
		total += (y[i] - mean) * (y[i] - mean)
	}
	r.sd = math.Sqrt(r.sumSquares / float64(n-k-1))
	r.r2 = 1 - r.sumSquares/total
	return r
}

// at returns the model at x and its standard uncertainty, as ahead does.
func (r *regression) at(x ...float64) quantity.Value {
	v := r.last.x[0]
	c := make([]float64, len(x))
	for j := range x {
		c[j] = x[j] - r.last.x[j+1]
		v += c[j] * r.coef[j]
	}
	return quantity.Value{V: v, U: r.sd * math.Sqrt(r.last.pxx+r.quadratic(c))}
}

// coefficient returns the i-th, 0 for the intercept, with its standard deviation.
func (r *regression) coefficient(i int) quantity.Value {
	if i == 0 {
		return r.at(make([]float64, len(r.coef))...)
	}
	return quantity.Value{V: r.coef[i-1], U: r.sd * math.Sqrt(r.quadratic(unit(len(r.coef), i-1)))}
}

// NIST StRD Norris, certified values. Twelve digits are asked: double precision
// loses about one to the centring and two to the subtraction of a slope near 1.
func TestNorris(t *testing.T) {
	c := published(t, "nist_norris.txt")
	fit := regress(t, c[:1], c[1])
	b0, b1 := fit.coefficient(0), fit.coefficient(1)
	for _, w := range []struct {
		name      string
		got, want float64
	}{
		{"B0", b0.V, -0.262323073774029}, {"sd B0", b0.U, 0.232818234301152},
		{"B1", b1.V, 1.00211681802045}, {"sd B1", b1.U, 0.000429796848199937},
		{"residual sd", fit.sd, 0.884796396144373},
		{"sum of squares", fit.sumSquares, 26.6173985294224},
		{"R²", fit.r2, 0.999993745883712},
	} {
		if d := digits(w.got, w.want); d < 12 {
			t.Errorf("%s = %.15g, certified %.15g: %.1f digits", w.name, w.got, w.want, d)
		}
	}
}

// NIST StRD Longley, certified values. The centred and scaled columns have a
// condition of about 100, so that of 16 digits more than ten must come through.
func TestLongley(t *testing.T) {
	c := published(t, "nist_longley.txt")
	fit := regress(t, c[:6], c[6])
	want := []float64{-3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683,
		-1.03322686717359, -0.0511041056535807, 1829.15146461355}
	sd := []float64{890420.383607373, 84.9149257747669, 0.0334910077722432, 0.488399681651699,
		0.214274163161675, 0.226073200069370, 455.478499142212}
	for i := range want {
		b := fit.coefficient(i)
		if d := digits(b.V, want[i]); d < 10 {
			t.Errorf("B%d = %.15g, certified %.15g: %.1f digits", i, b.V, want[i], d)
		}
		if d := digits(b.U, sd[i]); d < 10 {
			t.Errorf("sd of B%d = %.15g, certified %.15g: %.1f digits", i, b.U, sd[i], d)
		}
	}
	if d := digits(fit.sd, 304.854073561965); d < 10 {
		t.Errorf("residual sd = %.15g, certified 304.854073561965", fit.sd)
	}
	if d := digits(fit.r2, 0.995479004577296); d < 10 {
		t.Errorf("R² = %.15g, certified 0.995479004577296", fit.r2)
	}
}

// JCGM 100:2008, H.3: printed y1 −0.1712, s 0.0029; y2 0.00218, s 0.00067; r −0.930;
// s 0.0035; b(30) −0.1494, u 0.0041. The digits behind those are recomputed.
func TestThermometerJCGM100H3(t *testing.T) {
	c := published(t, "jcgm100_h3.txt")
	theta := make([]float64, len(c[0]))
	for i, x := range c[0] {
		theta[i] = x - 20
	}
	fit := regress(t, [][]float64{theta}, c[1])
	y1, y2, b30 := fit.coefficient(0), fit.coefficient(1), fit.at(10)
	// The covariance of intercept and slope: the intercept holds the slope times the mean.
	r := -fit.last.x[1] * y2.U / y1.U
	for _, w := range []struct {
		name                 string
		got, printed, digits float64
		half                 float64 // of the last printed digit
	}{
		{"y1", y1.V, -0.1712, -0.171203790, 5e-5}, {"s(y1)", y1.U, 0.0029, 0.002877598, 5e-5},
		{"y2", y2.V, 0.00218, 0.002182697740, 5e-6}, {"s(y2)", y2.U, 0.00067, 0.000667938773, 5e-6},
		{"r", r, -0.930, -0.930429603, 5e-4}, {"s", fit.sd, 0.0035, 0.003497563964, 5e-5},
		{"b(30)", b30.V, -0.1494, -0.149376813, 5e-5}, {"u(b(30))", b30.U, 0.0041, 0.004138595753, 5e-5},
	} {
		if math.Abs(w.got-w.printed) > w.half || digits(w.got, w.digits) < 6 {
			t.Errorf("%s = %.12g, printed %g, recomputed %.12g", w.name, w.got, w.printed, w.digits)
		}
	}
}
