// Package periodic finds what repeats in the time errors of a clock's beats: with the
// turns of the wheels of its train, with the teeth of its escape wheel, and, where the
// train isn't known, with any period.
package periodic

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"

	"evenbeat/analysis/beat/phase"
)

// sincosOf returns the sine and the cosine of an angle in turns. Whole turns are taken
// off, so that after a million of them the angle has its digits still.
func sincosOf(turns float64) (sin, cos float64) {
	return math.Sincos(2 * math.Pi * (turns - math.Floor(turns)))
}

// raisedCosine is the window over u from 0 to 1, of mean 1.
func raisedCosine(u float64) float64 { return 1 - math.Cos(2*math.Pi*u) }

// raised returns the means with their weights under a raised cosine.
func raised(m phase.Means) phase.Means {
	w, span := make([]float64, len(m.W)), m.Span()
	for i, k := range m.K {
		w[i] = m.W[i] * raisedCosine((k-m.K[0])/span)
	}
	m.W = w
	return m
}

// sinusoid returns the complex amplitude at frequency f, in turns a beat, of means with
// raised weights, by least squares beside a straight line.
func sinusoid(m phase.Means, f float64) (complex128, bool) {
	eq := newEquations(4)
	span := m.Span()
	row := make([]float64, 4)
	for i, k := range m.K {
		s, c := sincosOf(f * (k - m.K[0]))
		row[0], row[1], row[2], row[3] = 1, (k-m.K[0])/span-0.5, c, s
		eq.add(row, m.W[i], m.X[i])
	}
	b, ok := eq.solve(0)
	if !ok {
		return 0, false
	}
	v := complex(b[2], b[3])
	return v, !cmplx.IsNaN(v) && !cmplx.IsInf(v)
}

// equations are the normal equations of a regression on n unknowns: n rows, the right
// side last in each.
type equations struct {
	n int
	m []float64
}

func newEquations(n int) equations { return equations{n: n, m: make([]float64, n*(n+1))} }

// add takes what the unknowns, by row, should make: x, with its weight.
func (e equations) add(row []float64, weight, x float64) {
	rest := e.m
	for _, r := range row {
		v := weight * r
		line := rest[:len(row)+1]
		for k, s := range row {
			line[k] += v * s
		}
		line[len(row)] += v * x
		rest = rest[len(row)+1:]
	}
}

// solve eliminates and returns the unknowns. It reports false where a pivot is no more
// than least times the first one.
func (e equations) solve(least float64) (b []float64, ok bool) {
	n := e.n
	b = make([]float64, n)
	scale := e.m[0]
	for j := range n {
		top := e.m[j*(n+1) : (j+1)*(n+1)]
		if !(top[j] > least*scale) {
			return b, false
		}
		for k := j + 1; k < n; k++ {
			row := e.m[k*(n+1) : (k+1)*(n+1)]
			q := row[j] / top[j]
			for l := j; l <= n; l++ {
				row[l] -= q * top[l]
			}
		}
	}
	for j := n - 1; j >= 0; j-- {
		row := e.m[j*(n+1) : (j+1)*(n+1)]
		v := row[n]
		for k := j + 1; k < n; k++ {
			v -= row[k] * b[k]
		}
		b[j] = v / row[j]
	}
	return b, true
}

// leastSquares returns the p unknowns b by which rows, of p values each, come nearest to
// x under weights w, with the normal matrix and its factors. It reports false where the
// unknowns can't be told apart.
func leastSquares(rows []float64, p int, w, x []float64) (sym *mat.SymDense, ch mat.Cholesky, b []float64, ok bool) {
	m := make([]float64, p*p)
	rhs := make([]float64, p)
	for i, weight := range w {
		row := rows[i*p : i*p+p]
		for j, r := range row {
			rhs[j] += weight * r * x[i]
			for k, s := range row {
				m[j*p+k] += weight * r * s
			}
		}
	}
	sym, b = mat.NewSymDense(p, m), make([]float64, p)
	ok = ch.Factorize(sym) && ch.Cond() <= 1e6 && ch.SolveVecTo(mat.NewVecDense(p, b), mat.NewVecDense(p, rhs)) == nil
	return sym, ch, b, ok
}
