package uncertainty

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"evenbeat/devices/quantity"
)

// Fit is a linear model found by least squares.
type Fit struct {
	Coef []float64   // intercept first, then one a column
	Cov  [][]float64 // covariance of the coefficients
	// ResidualSD is the standard deviation about the fit, √(SumSquares/DoF).
	ResidualSD float64
	SumSquares float64
	R2         float64 // share of the variance of y that the model explains; 0 when y doesn't vary
	DoF        int64
}

// ErrCollinear is the cause of the error when the columns can't be told apart.
var ErrCollinear = errors.New("the columns can't be told apart")

// Line fits y = a + b·x by least squares, all points of equal weight and with
// independent errors. See Multiple.
func Line(x, y []float64) (Fit, error) { return Multiple([][]float64{x}, y) }

// Multiple fits y = b₀ + b₁·x₁ + b₂·x₂ + … by least squares, all points of equal
// weight and with independent errors; each column holds one x for all points. The
// covariance is s²·(XᵀX)⁻¹ with s² = SumSquares/(n−p), p coefficients (JCGM
// 100:2008, H.3.2, for the line). Columns are centred and scaled before the QR
// decomposition, without which a column of years beside one of percents loses
// half the digits. The error tells of lengths that differ, too few points, a
// number that is not finite, or columns that can't be told apart (ErrCollinear).
func Multiple(columns [][]float64, y []float64) (Fit, error) {
	n, p := len(y), len(columns)+1
	if err := fitInput(columns, y); err != nil {
		return Fit{}, err
	}
	means, scales := make([]float64, p-1), make([]float64, p-1)
	x := mat.NewDense(n, p-1, nil)
	for j, c := range columns {
		means[j], scales[j] = centre(c)
		if !(scales[j] > 0) {
			return Fit{}, fmt.Errorf("%w: column %d never changes", ErrCollinear, j+1)
		}
		for i, v := range c {
			x.Set(i, j, (v-means[j])/scales[j])
		}
	}
	meanY, spreadY := centre(y)
	centred := mat.NewVecDense(n, nil)
	for i, v := range y {
		centred.SetVec(i, v-meanY)
	}
	var qr mat.QR
	qr.Factorize(x)
	if c := qr.Cond(); !(c < 1e12) {
		return Fit{}, fmt.Errorf("%w: condition %.1g", ErrCollinear, c)
	}
	var b mat.VecDense
	if err := qr.SolveVecTo(&b, false, centred); err != nil {
		return Fit{}, fmt.Errorf("%w: %w", ErrCollinear, err)
	}
	fit := Fit{Coef: make([]float64, p), DoF: int64(n - p)}
	fit.Coef[0] = meanY
	for j := range p - 1 {
		fit.Coef[j+1] = b.AtVec(j) / scales[j]
		fit.Coef[0] -= fit.Coef[j+1] * means[j]
	}
	var fitted mat.VecDense
	fitted.MulVec(x, &b)
	for i := range n {
		r := centred.AtVec(i) - fitted.AtVec(i)
		fit.SumSquares += r * r
	}
	if spreadY > 0 {
		fit.R2 = 1 - fit.SumSquares/(spreadY*spreadY*float64(n-1))
	}
	s2 := fit.SumSquares / float64(fit.DoF)
	fit.ResidualSD = math.Sqrt(s2)
	return fit, fit.covariance(&qr, s2, float64(n), means, scales)
}

func fitInput(columns [][]float64, y []float64) error {
	if len(columns) == 0 {
		return errors.New("a fit needs at least one column")
	}
	if need := len(columns) + 2; len(y) < need {
		return fmt.Errorf("%d points for %d coefficients: %d are needed to tell an uncertainty", len(y), len(columns)+1, need)
	}
	for _, c := range append(columns[:len(columns):len(columns)], y) {
		if len(c) != len(y) {
			return fmt.Errorf("a column of %d for %d points: lengths must be the same", len(c), len(y))
		}
		for i, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("point %d is %v: leave it out", i+1, v)
			}
		}
	}
	return nil
}

// centre returns mean and sample standard deviation; a spread that is float dust
// beside the mean counts as none.
func centre(c []float64) (mean, sd float64) {
	n := float64(len(c))
	for _, v := range c {
		mean += v / n
	}
	for _, v := range c {
		sd += (v - mean) * (v - mean) / (n - 1)
	}
	if sd = math.Sqrt(sd); sd <= 1e-14*math.Abs(mean) {
		return mean, 0
	}
	return mean, sd
}

// covariance fills Cov from R: (XᵀX)⁻¹ = R⁻¹·R⁻ᵀ for the centred columns, and the
// intercept's from s²/n and the columns' means.
func (f *Fit) covariance(qr *mat.QR, s2, n float64, means, scales []float64) error {
	k := len(means)
	var r mat.Dense
	qr.RTo(&r)
	var inv mat.Dense
	if err := inv.Inverse(r.Slice(0, k, 0, k)); err != nil {
		return fmt.Errorf("%w: %w", ErrCollinear, err)
	}
	f.Cov = make([][]float64, k+1)
	for i := range f.Cov {
		f.Cov[i] = make([]float64, k+1)
	}
	for i := range k {
		for j := range k {
			var sum float64
			for l := range k {
				sum += inv.At(i, l) * inv.At(j, l)
			}
			f.Cov[i+1][j+1] = s2 * sum / (scales[i] * scales[j])
		}
	}
	f.Cov[0][0] = s2 / n
	for i := range k {
		for j := range k {
			f.Cov[0][0] += means[i] * means[j] * f.Cov[i+1][j+1]
			f.Cov[0][i+1] -= means[j] * f.Cov[j+1][i+1]
		}
	}
	for i := range k {
		f.Cov[i+1][0] = f.Cov[0][i+1]
	}
	return nil
}

// Coefficient returns the i-th coefficient (0 is the intercept) with its standard
// uncertainty and a Student interval; the zero Value if there is none such.
func (f Fit) Coefficient(i int) quantity.Value {
	if i < 0 || i >= len(f.Coef) {
		return quantity.Value{}
	}
	return quantity.Value{V: f.Coef[i], U: math.Sqrt(f.Cov[i][i]), K: student95(float64(f.DoF))}
}

// At returns the model's value at x (one a column) with the uncertainty of the
// model itself, without the scatter of a single point about it; the zero Value
// for another number of columns.
func (f Fit) At(x ...float64) quantity.Value {
	if len(x)+1 != len(f.Coef) {
		return quantity.Value{}
	}
	row := append([]float64{1}, x...)
	var y, u2 float64
	for i := range row {
		y += f.Coef[i] * row[i]
		for j := range row {
			u2 += row[i] * row[j] * f.Cov[i][j]
		}
	}
	return quantity.Value{V: y, U: math.Sqrt(max(u2, 0)), K: student95(float64(f.DoF))}
}
