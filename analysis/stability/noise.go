package stability

import "math"

// minNoisePoints is the fewest points that identify the noise. With fewer the lag-1
// autocorrelation is too uncertain to tell neighbouring kinds apart (SP 1065, on the
// lag-1 method, from memory: about 30).
const minNoisePoints = 30

// lagSums holds what the lag-1 autocorrelation needs of a series of first differences y,
// less base so that a large steady rate costs no digits, and of its first and second
// differences, z and w.
type lagSums struct {
	base          float64
	based         bool
	n, nz, nw     int64
	y, yy, zz, ww float64
}

func (l *lagSums) add(m lagSums) {
	l.n, l.nz, l.nw = l.n+m.n, l.nz+m.nz, l.nw+m.nw
	l.y, l.yy, l.zz, l.ww = l.y+m.y, l.yy+m.yy, l.zz+m.zz, l.ww+m.ww
}

// take adds the differences that end at one point; what is NaN counts for nothing.
func (l *lagSums) take(y, z, w float64) {
	if y != y {
		return
	}
	if !l.based {
		l.base, l.based = y, true
	}
	y -= l.base
	l.n++
	l.y += y
	l.yy += y * y
	if z == z {
		l.nz++
		l.zz += z * z
	}
	if w == w {
		l.nw++
		l.ww += w * w
	}
}

// chain is a point of a series: its phase, and the differences of first and second
// order that end at it. What touches a gap is NaN.
type chain struct{ x, y, z float64 }

func newChain() chain { return chain{math.NaN(), math.NaN(), math.NaN()} }

// next goes on to the next point and returns the differences that end at it, of first
// to third order.
func (c *chain) next(x float64) (y, z, w float64) {
	y = x - c.x
	z = y - c.y
	w = z - c.z
	c.x, c.y, c.z = x, y, z
	return y, z, w
}

// noise names the power-law noise by the lag-1 autocorrelation r1 of y, or of z
// where y is not stationary: delta = r1/(1+r1) is the order of fractional integration,
// the exponent of the phase's spectrum is −2(d+delta) with d the number of
// differencings, and alpha, that of the frequency's, is two more. delta is below 1/4 once
// the series has been differenced often enough. Source: W. J. Riley and C. A. Greenhall, "Power law
// noise identification using the lag 1 autocorrelation", 2004, as in NIST SP
// 1065 (from memory).
//
// The products of neighbours follow from the squares of their differences:
// r1 = 1 − Σ(y[i+1]−y[i])²/(2Σ(y−ȳ)²), apart from the two end terms. The phase is always
// differenced once, so that a steady rate doesn't matter.
//
// Flicker of phase thinned to every m-th point looks the whiter the longer m is: r1 goes
// from −1/3 at m = 1 to −0.45 at m = 64, and −1/2 is white. So named uses this for phase
// noise up to m = 2 only.
func (l lagSums) noise() (Noise, bool) {
	if l.n < minNoisePoints || l.nz < 2 || l.nw < 2 {
		return "", false
	}
	n := float64(l.n)
	variance := (l.yy - l.y*l.y/n) / n
	d, delta, ok := 1.0, 0.0, false
	if delta, ok = fractional(variance, l.zz/float64(l.nz)); !ok {
		return "", false
	}
	if delta >= 0.25 {
		d = 2
		// z has zero mean already, up to a drift far below its own size.
		if delta, ok = fractional(l.zz/float64(l.nz), l.ww/float64(l.nw)); !ok {
			return "", false
		}
	}
	return kindOf(2 - 2*(d+delta)), true
}

// fractional returns delta from the mean square of a series and that of its
// differences.
func fractional(square, diff float64) (float64, bool) {
	if !(square > 0) || math.IsInf(square, 0) || math.IsInf(diff, 0) || math.IsNaN(diff) {
		return 0, false
	}
	r1 := max(1-diff/(2*square), -0.95)
	return r1 / (1 + r1), true
}

// ratioFrom is the shortest averaging factor at which byRatio tells all kinds apart. At
// m = 2 white and flicker of phase, 0.50 and 0.56, lie too close.
const ratioFrom = 4

// ratioRuns is the fewest independent terms in MDEV, of m points each, for byRatio.
const ratioRuns = 15

// named returns the kind of noise at averaging factor m. lag holds the sums over every
// m-th point, short is the kind at m = 2, and mod and all are the mean squares MDEV² and
// OADEV², in one unit, of which mod is that of so many independent terms. It reports false
// where too few points show the kind.
func named(lag lagSums, m int64, short Noise, mod, all, runs float64) (Noise, bool) {
	own, ok := lag.noise()
	switch {
	case !ok || m < ratioFrom:
	case runs >= ratioRuns && all > 0:
		return byRatio(m, mod/all), true
	case own == WhitePhase && short == FlickerPhase:
		// The longer the time, the redder is what dominates.
		return FlickerPhase, true
	}
	return own, ok
}

// byRatio names the noise by R = MDEV²/OADEV² at averaging factor m, which is at least
// ratioFrom. The limits lie midway, by ratio, between the values of neighbouring kinds:
//
//	white phase       1/m
//	flicker phase     3.37/(1.04 + 3 ln πm)
//	white frequency   0.50
//	flicker frequency 0.67
//	random walk       0.82
//
// The phase noise is taken to reach up to half the sampling frequency. Source: NIST SP
// 1065, on the R(n) ratio and on the deviations of each noise (from memory; checked
// against simulated noise of each kind).
func byRatio(m int64, r float64) Noise {
	values := [...]struct {
		noise Noise
		r     float64
	}{{WhitePhase, 1 / float64(m)}, {FlickerPhase, 3.37 / (1.04 + 3*math.Log(math.Pi*float64(m)))}, {WhiteFrequency, 0.5}, {FlickerFrequency, 0.67}, {RandomWalk, 0.82}}
	k := 0
	for k+1 < len(values) && r*r > values[k].r*values[k+1].r {
		k++
	}
	return values[k].noise
}

// kindOf returns the kind whose exponent is nearest to alpha: 2 is white phase,
// −2 random walk of frequency.
func kindOf(alpha float64) Noise {
	switch {
	case alpha > 1.5:
		return WhitePhase
	case alpha > 0.5:
		return FlickerPhase
	case alpha > -0.5:
		return WhiteFrequency
	case alpha > -1.5:
		return FlickerFrequency
	}
	return RandomWalk
}
