package stability

import "math"

// Each of these returns a deviation at averaging factor m, and its number of terms. x is
// phase in units of tau0, so that x/m is fractional frequency. The definitions are those
// of NIST SP 1065, section 5.

// allan returns the Allan deviation, overlapping when step is 1:
//
//	σ² = 1/(2τ²·n) Σ (x[i+2m] − 2x[i+m] + x[i])²
//
// over i = 0, m, 2m …, or over every i.
func (s *series) allan(m, step int) (float64, int64) {
	sum, n := 0.0, int64(0)
	x := s.x
	for i := 0; i+2*m < len(x); i += step {
		if !s.usable(i, m, 2) {
			continue
		}
		d := x[i+2*m] - 2*x[i+m] + x[i]
		sum += d * d
		n++
	}
	return root(sum, 2*float64(n)) / float64(m), n
}

// hadamard returns the Hadamard deviation, overlapping when step is 1:
//
//	Hσ² = 1/(6τ²·n) Σ (x[i+3m] − 3x[i+2m] + 3x[i+m] − x[i])²
func (s *series) hadamard(m, step int) (float64, int64) {
	sum, n := 0.0, int64(0)
	x := s.x
	for i := 0; i+3*m < len(x); i += step {
		if !s.usable(i, m, 3) {
			continue
		}
		d := x[i+3*m] - 3*x[i+2*m] + 3*x[i+m] - x[i]
		sum += d * d
		n++
	}
	return root(sum, 6*float64(n)) / float64(m), n
}

// modified returns the modified Allan deviation:
//
//	Modσ² = 1/(2m²τ²·n) Σⱼ (Σᵢ₌ⱼ…ⱼ₊ₘ₋₁ x[i+2m] − 2x[i+m] + x[i])²
//
// The inner sum is updated from term to term, and computed afresh every so often so that
// rounding errors don't accumulate.
func (s *series) modified(m int) (float64, int64) {
	const anew = 1024
	sum, n, inner := 0.0, int64(0), 0.0
	x := s.x
	for j := 0; j+3*m <= len(x); j++ {
		if j%anew == 0 {
			inner = 0
			for i := j; i < j+m; i++ {
				inner += x[i+2*m] - 2*x[i+m] + x[i]
			}
		} else {
			inner += x[j+3*m-1] - 3*x[j+2*m-1] + 3*x[j+m-1] - x[j-1]
		}
		if !s.whole(j, j+3*m-1) {
			continue
		}
		sum += inner * inner
		n++
	}
	return root(sum, 2*float64(n)) / (float64(m) * float64(m)), n
}

// total returns the total deviation:
//
//	Totσ² = 1/(2τ²·n) Σ (x*[i−m] − 2x*[i] + x*[i+m])²
//
// over the points i between the ends, x* being x carried on beyond both ends by
// reflection: x*[−j] = 2x[0] − x[j] and x*[N−1+j] = 2x[N−1] − x[N−1−j].
func (s *series) total(m int) (float64, int64) {
	sum, n := 0.0, int64(0)
	last := len(s.x) - 1
	for i := 1; i < last; i++ {
		low, high := i-m, i+m
		if !s.reflectable(low, i, high) {
			continue
		}
		d := s.reflected(low) - 2*s.x[i] + s.reflected(high)
		sum += d * d
		n++
	}
	return root(sum, 2*float64(n)) / float64(m), n
}

// reflected returns x*[i] for i from −(N−1) to 2(N−1).
func (s *series) reflected(i int) float64 {
	last := len(s.x) - 1
	switch {
	case i < 0:
		return 2*s.x[0] - s.x[-i]
	case i > last:
		return 2*s.x[last] - s.x[2*last-i]
	}
	return s.x[i]
}

// reflectable reports whether the term of low, i and high touches no gap, on either side
// of the mirror.
func (s *series) reflectable(low, i, high int) bool {
	if s.before == nil {
		return true
	}
	last := len(s.x) - 1
	mirrorLow, mirrorHigh := max(low, -low), min(high, 2*last-high)
	if !s.spans {
		return s.whole(i, i) && s.whole(mirrorLow, mirrorLow) && s.whole(mirrorHigh, mirrorHigh)
	}
	from, to := max(low, 0), min(high, last)
	if low < 0 {
		to = max(to, -low)
	}
	if high > last {
		from = min(from, 2*last-high)
	}
	return s.whole(from, to)
}

func root(sum, n float64) float64 {
	if n <= 0 {
		return 0
	}
	return math.Sqrt(sum / n)
}

// lags returns the sums over every m-th point that identify the noise.
func (s *series) lags(m int) lagSums {
	var sums lagSums
	c := newChain()
	for i := 0; i < len(s.x); i += m {
		if i >= m && !s.usable(i-m, m, 1) {
			c.x = math.NaN()
		}
		sums.take(c.next(s.x[i]))
	}
	return sums
}
