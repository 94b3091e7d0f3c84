package going

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"

	"evenbeat/sessions"
)

// hongKong reads the published rates: rate s/day, temperature °F, printed formula.
func hongKong(t *testing.T) (rate, temp, printed []float64) {
	t.Helper()
	f, err := os.Open("../../testdata/published/hongkong_1892_clock_rates.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sc := bufio.NewScanner(f)
	for sc.Scan() {
		if strings.HasPrefix(sc.Text(), "#") {
			continue
		}
		var a, b, c float64
		if _, err := fmt.Sscan(sc.Text(), &a, &b, &c); err != nil {
			t.Fatal(err)
		}
		rate, temp, printed = append(rate, a), append(temp, b), append(printed, c)
	}
	if sc.Err() != nil || len(rate) != 30 {
		t.Fatalf("%d rows, %v", len(rate), sc.Err())
	}
	return rate, temp, printed
}

var (
	firstDay = time.Date(1891, 12, 27, 0, 0, 0, 0, time.UTC)
	july     = time.Date(1892, 7, 1, 0, 0, 0, 0, time.UTC)
)

// fromJuly is the middle of row i in days from 1 July.
func fromJuly(i int) float64 { return firstDay.Sub(july).Hours()/24 + 10*float64(i) + 5 }

// TestHongKongPrinted: the printed formula gives the printed rates at mid-period,
// within its own rounding, but in the row whose temperature the scan has wrong.
func TestHongKongPrinted(t *testing.T) {
	_, temp, printed := hongKong(t)
	for i := range temp {
		got := 2.60 - 0.075*(temp[i]-75) + 0.0020*fromJuly(i)
		if off := math.Abs(got - printed[i]); (off > 0.0095) != (i == 3) {
			t.Errorf("row %d: %.3f, printed %.2f", i, got, printed[i])
		}
	}
}

// leastSquares is an independent path: gonum's QR. It returns coefficients and
// their bare errors.
func leastSquares(rows [][]float64, y []float64) (b, sd []float64, s float64) {
	k := len(rows[0])
	x := mat.NewDense(len(y), k, slices.Concat(rows...))
	var qr mat.QR
	qr.Factorize(x)
	var coef mat.VecDense
	if err := qr.SolveVecTo(&coef, false, mat.NewVecDense(len(y), y)); err != nil {
		panic(err)
	}
	var fit, xx, inv mat.Dense
	fit.Mul(x, &coef)
	sum := 0.0
	for i := range y {
		d := y[i] - fit.At(i, 0)
		sum += d * d
	}
	s = math.Sqrt(sum / float64(len(y)-k))
	xx.Mul(x.T(), x)
	if err := inv.Inverse(&xx); err != nil {
		panic(err)
	}
	for j := range k {
		b, sd = append(b, coef.AtVec(j)), append(sd, s*math.Sqrt(inv.At(j, j)))
	}
	return b, sd, s
}

// TestHongKongHonest: bare least squares on the published rates returns
// coefficients with errors that look small; from the same record, as errors of the
// dial, ours must be wider, hold the bare estimate, find the effect of temperature
// all the same, and say that heat and season went together.
func TestHongKongHonest(t *testing.T) {
	rate, temp, _ := hongKong(t)
	var rows [][]float64
	var y []float64
	for i := range rate {
		if i != 3 {
			rows, y = append(rows, []float64{1, temp[i] - 75, fromJuly(i)}), append(y, rate[i])
		}
	}
	b, sd, s := leastSquares(rows, y)
	// Worked by hand from the table without its fourth row.
	got := fmt.Sprintf("%.5f %.5f %.5f %.5f %.5f %.4f", b[0], b[1], sd[1], b[2], sd[2], s)
	if want := "2.48322 -0.05815 0.00606 0.00067 0.00043 0.1196"; got != want {
		t.Errorf("least squares: got %s, want %s", got, want)
	}
	days := make([]float64, len(temp))
	for i := range days {
		days[i] = float64(i)
	}
	if r := stat.Correlation(temp, days, nil); math.Abs(r-0.806) > 0.0005 {
		t.Errorf("correlation of temperature and time %.4f, want 0.806", r)
	}

	r, err := Analyse(hongKongRecord(rate, temp))
	if err != nil {
		t.Fatal(err)
	}
	f := r.Factors[0]
	if f.Name != temperature || len(r.Factors) != 1 {
		t.Fatalf("factors %+v", r.Factors)
	}
	bareK, bareU := b[1]*1.8, sd[1]*1.8
	t.Logf("temperature: bare %.4f ± %.4f, ours %.4f ± %.4f (u) s/day/K; trend: bare u %.5f, ours %.5f", bareK, bareU, f.PerUnit.V, f.PerUnit.U, sd[2], r.Trend.U)
	if f.PerUnit.U < 1.3*bareU {
		t.Errorf("u of temperature %.4f s/day/K is hardly wider than the bare %.4f", f.PerUnit.U, bareU)
	}
	if !f.PerUnit.Covers(bareK) || !f.Significant {
		t.Errorf("temperature %+v, bare estimate %.4f", f, bareK)
	}
	if r.Trend.U < 1.5*sd[2] {
		t.Errorf("u of trend %.5f is hardly wider than the bare %.5f", r.Trend.U, sd[2])
	}
	if !contains(r.Reasons, "Temperature and the passing of time went together (correlation 0.8") {
		t.Errorf("collinearity is not told: %q", r.Reasons)
	}
	if want := stat.Mean(rate, nil); math.Abs(r.MeanRate.V-want) > 1e-9 {
		t.Errorf("mean rate %.4f, want %.4f", r.MeanRate.V, want)
	}
}

// hongKongRecord is the published series as a record: a check at each period's
// end, good to 0.05 s as a transit of stars is, and the period's temperature in
// the middle of each of its days.
func hongKongRecord(rate, temp []float64) In {
	var in In
	e := 0.0
	in.Checks = append(in.Checks, sessions.Check{At: firstDay, U: 0.05})
	for i := range rate {
		e += 10 * rate[i]
		in.Checks = append(in.Checks, sessions.Check{At: firstDay.AddDate(0, 0, 10*(i+1)), ErrorS: e, U: 0.05})
		for d := range 10 {
			in.Air = append(in.Air, sessions.Air{At: firstDay.AddDate(0, 0, 10*i+d).Add(12 * time.Hour), TemperatureC: (temp[i] - 32) / 1.8, HasTemperature: true})
		}
	}
	return in
}

func contains(all []string, part string) bool {
	return slices.ContainsFunc(all, func(s string) bool { return strings.Contains(s, part) })
}
