package going

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

// mixture is a distribution made of normal ones, whose weights add up to one.
type mixture []part

type part struct{ weight, mean, sd float64 }

// times returns what two independent sources say together of one quantity: by Bayes'
// theorem, the product of their densities. That of two normal ones is normal.
func (m mixture) times(other mixture) mixture {
	product := make(mixture, 0, len(m)*len(other))
	for _, a := range m {
		for _, b := range other {
			va, vb, d := a.sd*a.sd, b.sd*b.sd, a.mean-b.mean
			v := va + vb
			product = append(product, part{
				weight: math.Log(a.weight*b.weight) - (math.Log(v)+d*d/v)/2,
				mean:   (a.mean*vb + b.mean*va) / v,
				sd:     math.Sqrt(va * vb / v),
			})
		}
	}
	return shares(product, func(p *part) *float64 { return &p.weight })
}

// value returns mean and spread, with the factor that makes the interval about the mean
// hold 95 %.
func (m mixture) value() quantity.Value {
	var v quantity.Value
	for _, p := range m {
		v.V += p.weight * p.mean
	}
	widest := 0.0
	for _, p := range m {
		d := p.mean - v.V
		v.U += p.weight * (p.sd*p.sd + d*d)
		widest = max(widest, math.Abs(d)+5*p.sd)
	}
	if v.U = math.Sqrt(v.U); !(v.U > 0) {
		return v
	}
	low, high := 0.0, widest
	for i := 0; i < 60 && high-low > 1e-6*v.U; i++ {
		h := (low + high) / 2
		held := 0.0
		for _, p := range m {
			n := distuv.Normal{Mu: p.mean, Sigma: max(p.sd, 1e-300)}
			held += p.weight * (n.CDF(v.V+h) - n.CDF(v.V-h))
		}
		if held < 0.95 {
			low = h
		} else {
			high = h
		}
	}
	v.K = high / v.U
	return v
}
