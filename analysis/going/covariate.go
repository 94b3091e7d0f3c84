package going

import (
	"cmp"
	"math"
	"slices"
)

// maxGap is the longest time, in days, over which two samples are joined by a straight
// line. A sample at the edge holds for half of it. A room's air changes within a day;
// three days still follow the weather.
const maxGap = 3.0

// covariate is something that the rate may depend on, as straight pieces in time. It
// isn't known between pieces.
type covariate struct {
	pieces []piece
}

// piece is a straight line from (a, va) to (b, vb).
type piece struct{ a, b, va, vb float64 }

// sampled joins samples in any order. Those at the same time are averaged.
func sampled(t, v []float64) covariate {
	type tv struct{ t, v float64 }
	all := make([]tv, len(t))
	for i := range t {
		all[i] = tv{t[i], v[i]}
	}
	slices.SortStableFunc(all, func(a, b tv) int { return cmp.Compare(a.t, b.t) })
	var ts, vs []float64
	for i := 0; i < len(all); {
		sum, n := 0.0, 0
		at := all[i].t
		for ; i < len(all) && all[i].t == at; i++ {
			sum += all[i].v
			n++
		}
		ts, vs = append(ts, at), append(vs, sum/float64(n))
	}
	var s covariate
	for i := range ts {
		if i == 0 || ts[i]-ts[i-1] > maxGap {
			s.pieces = append(s.pieces, piece{ts[i] - maxGap/2, ts[i], vs[i], vs[i]})
		} else {
			s.pieces = append(s.pieces, piece{ts[i-1], ts[i], vs[i-1], vs[i]})
		}
		if i == len(ts)-1 || ts[i+1]-ts[i] > maxGap {
			s.pieces = append(s.pieces, piece{ts[i], ts[i] + maxGap/2, vs[i], vs[i]})
		}
	}
	return s
}

// sinceWinding is the hours since the spring was last wound, until the given day.
func sinceWinding(wound []float64, until float64) covariate {
	var s covariate
	for i, w := range wound {
		end := until
		if i+1 < len(wound) {
			end = wound[i+1]
		}
		if end > w {
			s.pieces = append(s.pieces, piece{w, end, 0, (end - w) * 24})
		}
	}
	return s
}

// over returns the integral of the covariate from a to b, and the number of those days
// for which it is known.
func (s covariate) over(a, b float64) (integral, known float64) {
	i, _ := slices.BinarySearchFunc(s.pieces, a, func(p piece, t float64) int { return cmp.Compare(p.b, t) })
	for ; i < len(s.pieces) && s.pieces[i].a < b; i++ {
		p := s.pieces[i]
		lo, hi := max(a, p.a), min(b, p.b)
		if hi <= lo {
			continue
		}
		slope := (p.vb - p.va) / (p.b - p.a)
		mid := p.va + slope*((lo+hi)/2-p.a)
		integral += mid * (hi - lo)
		known += hi - lo
	}
	return integral, known
}

// factor is a covariate with its statistics over a clock's record.
type factor struct {
	name, unit string
	covariate  covariate
	// mean, least and most are over the observed stretches. share is the part of them
	// for which the covariate is known.
	mean, least, most, share float64
}

// observed returns the factor with its mean and range over the stretches of going. The
// range is that of stretch means, since no finer change shows at the checks.
func (f factor) observed(tl *timeline) factor {
	sum, known, all := 0.0, 0.0, 0.0
	f.least, f.most = math.Inf(1), math.Inf(-1)
	for from, to := range tl.stretches() {
		s, k := f.covariate.over(from.t, to.t)
		all += to.t - from.t
		if k <= 0 {
			continue
		}
		sum += s
		known += k
		f.least, f.most = min(f.least, s/k), max(f.most, s/k)
	}
	if known <= 0 {
		return factor{name: f.name, unit: f.unit}
	}
	f.mean, f.share = sum/known, known/all
	return f
}

// step is the factor's contribution to the error from a to b, per unit: the integral of
// its difference from the mean. Where it isn't known it is taken to be at its mean.
func (f factor) step(a, b float64) float64 {
	s, known := f.covariate.over(a, b)
	return s - f.mean*known
}
