package going

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestFilterIsGeneralisedLeastSquares holds the filter against the plain matrix
// sums, by gonum: the covariance of the wandering written out in full,
//
//	cov(x(s), x(t)) = phase·s + rate·s²(3t−s)/6 for s ≤ t,
//
// a column of ones for each run, and the best linear forecast.
func TestFilterIsGeneralisedLeastSquares(t *testing.T) {
	// The filter's priors, absent here, are worth (u/100)² at most: 5e-6 of a
	// trend's covariance.
	const tolerance = 2e-5
	rng := rand.New(rand.NewPCG(9, 9))
	tl := &timeline{start: begin, acts: []act{{t: 4.2, kind: "moved"}}}
	at := 0.0
	for i := range 24 {
		tl.points = append(tl.points, point{t: at, e: 7*at + 3*rng.NormFloat64(), u: 0.2 + 0.3*rng.Float64(), run: i / 9})
		at += 0.2 + 2*rng.Float64()
	}
	columns := append(tl.base(false), tl.trendColumn())
	for _, n := range []noise{{0.09, 0.0025}, {4, 0.3}, {1e-4, 1}, {1, 1e-8}} {
		o := tl.observe(columns)
		e, ok := o.regress(n)
		if !ok {
			t.Fatalf("%+v: no fit", n)
		}
		e.weight = 1
		p := posterior{obs: o, estimates: []estimate{e}}
		coef, cov, ahead, aheadU := dense(tl, columns, n, 7)
		for j := range columns {
			got := e.coef[j]
			if j == 0 {
				got += o.slope
			}
			if math.Abs(got-coef[j]) > tolerance*math.Sqrt(cov.At(j, j)) {
				t.Errorf("%+v: coefficient %d: got %g, want %g", n, j, got, coef[j])
			}
			for k := range columns {
				if d := e.cov.At(j, k) - cov.At(j, k); math.Abs(d) > tolerance*math.Sqrt(cov.At(j, j)*cov.At(k, k)) {
					t.Errorf("%+v: covariance %d, %d: got %g, want %g", n, j, k, e.cov.At(j, k), cov.At(j, k))
				}
			}
		}
		if f := p.ahead(tl, columns, 7); math.Abs(f.V-ahead) > tolerance*aheadU || math.Abs(f.U/aheadU-1) > tolerance || math.Abs(f.K-1.95996) > 1e-4 {
			t.Errorf("%+v: forecast %+v, want %g with u %g", n, f, ahead, aheadU)
		}
	}
}

func (n noise) cov(s, t float64) float64 {
	s, t = min(s, t), max(s, t)
	return n.phase*s + n.rate*s*s*(3*t-s)/6
}

// dense is the same model by full matrices; the columns of runs stand last.
func dense(tl *timeline, columns []column, n noise, days float64) (coef []float64, cov *mat.Dense, ahead, aheadU float64) {
	count, k := len(tl.points), len(columns)
	runs := tl.points[count-1].run + 1
	target := tl.points[count-1].t + days
	omega := mat.NewSymDense(count, nil)
	x := mat.NewDense(count, k+runs, nil)
	y, c := mat.NewVecDense(count, nil), mat.NewVecDense(count, nil)
	for i, p := range tl.points {
		for j, q := range tl.points[:i+1] {
			omega.SetSym(i, j, n.cov(p.t, q.t))
		}
		omega.SetSym(i, i, omega.At(i, i)+p.u*p.u)
		for j, col := range columns {
			x.Set(i, j, col.step(0, p.t))
		}
		x.Set(i, k+p.run, 1)
		y.SetVec(i, p.e)
		c.SetVec(i, n.cov(p.t, target))
	}
	var inv mat.Dense
	must(inv.Inverse(omega))
	var xo, xox, b mat.Dense
	xo.Mul(x.T(), &inv)
	xox.Mul(&xo, x)
	cov = new(mat.Dense)
	must(cov.Inverse(&xox))
	b.Mul(cov, &xo)
	beta, rest := mat.NewVecDense(k+runs, nil), mat.NewVecDense(count, nil)
	beta.MulVec(&b, y)
	rest.MulVec(x, beta)
	rest.SubVec(y, rest)

	next := mat.NewVecDense(k+runs, nil)
	for j, col := range columns {
		next.SetVec(j, col.step(0, target))
	}
	next.SetVec(k+runs-1, 1)
	w, lack := mat.NewVecDense(count, nil), mat.NewVecDense(k+runs, nil)
	w.MulVec(&inv, c)
	lack.MulVec(x.T(), w)
	lack.SubVec(next, lack)
	ahead = mat.Dot(next, beta) + mat.Dot(w, rest)
	u2 := n.cov(target, target) - mat.Dot(w, c) + mat.Inner(lack, cov, lack)
	return beta.RawVector().Data[:k], cov, ahead, math.Sqrt(u2)
}

func must(err error) {
	if err != nil {
		panic(err)
	}
}

// TestPhysicsWeighsTheWandering: of two sizes of wandering, equally likely by the record, one
// says a coefficient of 1 ± 0.1, the other 1 ± 1, and physics allows −0.9 to +0.3. By the
// tables of the normal distribution Φ(−7) and Φ(−0.7) − Φ(−1.9) = 0.24196 − 0.02872.
func TestPhysicsWeighsTheWandering(t *testing.T) {
	of := func(u float64) estimate {
		return estimate{weight: 0.5, coef: []float64{7, 1}, cov: mat.NewSymDense(2, []float64{9, 0, 0, u * u})}
	}
	p := posterior{estimates: []estimate{of(0.1), of(1)}}
	p.allow(1, -0.9, 0.3)
	small, large := 0.05/10, 0.95*(0.24196-0.02872)+0.05/10
	if got, want := p.estimates[0].weight, small/(small+large); math.Abs(got-want) > 1e-6 {
		t.Errorf("the smaller size weighs %.7f, want %.7f", got, want)
	}
	if v := p.linear(unit(2, 1)); math.Abs(v.V-1) > 1e-12 {
		t.Errorf("the coefficient is %g, and no longer the record's 1", v.V)
	}

	// None at all is always possible, and half of 0 ± 1 is above it.
	p = posterior{estimates: []estimate{of(0.1), of(1)}}
	for i := range p.estimates {
		p.estimates[i].coef[1] = 0
	}
	p.allow(1, -20, -10)
	if got := p.estimates[0].weight; math.Abs(got-0.5) > 1e-9 {
		t.Errorf("no effect: the smaller size weighs %.7f, want 0.5", got)
	}
}
