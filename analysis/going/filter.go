package going

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// column is one term of the model: its contribution to the error from a to b per unit of
// its coefficient, and the standard deviation of the coefficient's prior. The prior is
// too wide to matter for any clock, but keeps an unobserved column finite.
type column struct {
	step  func(a, b float64) float64
	prior float64
}

// noise is the clock's wandering: phase is the variance that white frequency noise adds
// to the error, in s²/day, and rate that of the rate's random walk, in (s/day)²/day.
type noise struct{ phase, rate float64 }

// observations is the record as the filter takes it: for each point the error less a
// straight line, then the columns' sums.
type observations struct {
	t, u   []float64
	fresh  []bool // begins a run
	rows   [][]float64
	priors []float64
	// slope is the rate of that line, which is subtracted so that sums of squares keep
	// their digits.
	slope float64
}

func (tl *timeline) observe(columns []column) observations {
	mean, _, _ := tl.meanRate()
	o := observations{slope: mean.V}
	k := len(columns)
	for _, c := range columns {
		o.priors = append(o.priors, c.prior)
	}
	for i, p := range tl.points {
		row := make([]float64, k+1)
		fresh := i == 0 || tl.points[i-1].run != p.run
		row[0] = p.e - o.slope*p.t
		if !fresh {
			for j, c := range columns {
				row[j+1] = o.rows[i-1][j+1] + c.step(tl.points[i-1].t, p.t)
			}
		}
		o.t, o.u = append(o.t, p.t), append(o.u, p.u)
		o.fresh, o.rows = append(o.fresh, fresh), append(o.rows, row)
	}
	return o
}

// state is the filter's state: the phase and rate of the wandering for the error and for
// each column, and their common covariance.
type state struct {
	t             float64
	x, r          []float64
	pxx, pxr, prr float64
}

// estimate is the result for one size of wandering.
type estimate struct {
	weight float64 // logarithm of the evidence, later the share of all
	coef   []float64
	cov    *mat.SymDense
	last   state
	wander noise
}

// regress runs the record through a Kalman filter of two states, phase and rate, whose
// innovations whiten the error and every column alike. Least squares on the innovations
// is generalised least squares on the record, and also gives the likelihood. Each run
// starts with an unknown phase. It reports false where the equations can't be solved.
func (o *observations) regress(n noise) (estimate, bool) {
	k := len(o.priors)
	a := mat.NewSymDense(k, nil)
	b := make([]float64, k)
	yy, logDet := 0.0, 0.0
	s := state{x: make([]float64, k+1), r: make([]float64, k+1)}
	v := make([]float64, k+1)
	for i, row := range o.rows {
		if i == 0 {
			s.t = o.t[0]
		}
		s.predict(o.t[i], n)
		r := o.u[i] * o.u[i]
		if o.fresh[i] {
			copy(s.x, row)
			s.pxx, s.pxr = r, 0
			continue
		}
		f := s.update(row, r, v)
		logDet += math.Log(f)
		yy += v[0] * v[0] / f
		for p := range k {
			b[p] += v[p+1] * v[0] / f
			for q := p; q < k; q++ {
				a.SetSym(p, q, a.At(p, q)+v[p+1]*v[q+1]/f)
			}
		}
	}
	return o.solve(a, b, yy, logDet, s, n)
}

// predict carries the state to time t.
func (s *state) predict(t float64, n noise) {
	dt := t - s.t
	s.t = t
	for j := range s.x {
		s.x[j] += s.r[j] * dt
	}
	s.pxx += 2*dt*s.pxr + dt*dt*s.prr + n.phase*dt + n.rate*dt*dt*dt/3
	s.pxr += dt*s.prr + n.rate*dt*dt/2
	s.prr += n.rate * dt
}

// update takes in an observation with variance r, leaves the innovations in v and
// returns their variance.
func (s *state) update(row []float64, r float64, v []float64) float64 {
	f := s.pxx + r
	kx, kr := s.pxx/f, s.pxr/f
	for j, y := range row {
		v[j] = y - s.x[j]
		s.x[j] += kx * v[j]
		s.r[j] += kr * v[j]
	}
	s.prr -= kr * s.pxr
	s.pxr -= kx * s.pxr
	s.pxx -= kx * s.pxx
	return f
}

func (o *observations) solve(a *mat.SymDense, b []float64, yy, logDet float64, s state, n noise) (estimate, bool) {
	k := len(b)
	e := estimate{last: s, wander: n}
	if k == 0 {
		e.weight = -(logDet + yy) / 2
		return e, !math.IsNaN(e.weight)
	}
	for p, width := range o.priors {
		a.SetSym(p, p, a.At(p, p)+1/(width*width))
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return estimate{}, false
	}
	coef := mat.NewVecDense(k, nil)
	if chol.SolveVecTo(coef, mat.NewVecDense(k, b)) != nil {
		return estimate{}, false
	}
	e.cov = mat.NewSymDense(k, nil)
	if chol.InverseTo(e.cov) != nil {
		return estimate{}, false
	}
	e.coef = coef.RawVector().Data
	for p := range k {
		yy -= b[p] * e.coef[p]
	}
	e.weight = -(logDet + chol.LogDet() + yy) / 2
	return e, !math.IsNaN(e.weight)
}
