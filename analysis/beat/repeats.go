package beat

import (
	"cmp"
	"math"
	"math/cmplx"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"
)

const (
	mostRepeats = 6
	// worthIt is the gain in log likelihood for which a wave is believed, over the
	// cost of its two numbers (Schwarz): e³ to one.
	worthIt = 3.0
	// searched is added for a wave that no arbor explains: it is the best of some
	// hundred frequencies.
	searched = 4.6
	// A wave of fewer turns than this can't be told from wandering.
	fewestCycles = 1.5
)

// repeats finds the waves in the means of a segment that would bend the line:
// those of the arbors known, and what else stands out of the spectrum. A wave is
// taken when it explains the contrasts, by the polynomials ps, better than slow noise
// does. It returns the means without them, and by what factor they make the slope less
// sure.
func repeats(k, x, w []float64, ps polynomials, arbors []Arbor) (clean []float64, waves int, inflation float64) {
	clean, inflation = x, 1
	if len(k) < 24 {
		return clean, 0, inflation
	}
	var freqs []float64
	best, ok := evidence(ps, x, 0)
	if !ok {
		return clean, 0, inflation
	}
	for len(freqs) < mostRepeats {
		found := false
		var next float64
		for _, t := range tryAll(k, x, w, ps, freqs, candidates(k, clean, w, arbors, freqs)) {
			need := best + worthIt
			if !nearArbor(t.f, 0.01/(k[len(k)-1]-k[0]), arbors) {
				need += searched
			}
			if t.ok && t.gain > need {
				best, next, found = t.gain, t.f, true
				clean, inflation = t.clean, t.inflation
			}
		}
		if !found {
			break
		}
		freqs = append(freqs, next)
	}
	return clean, len(freqs), inflation
}

// trial is what the means are without one wave more.
type trial struct {
	f, gain   float64 // its frequency, and the evidence
	clean     []float64
	inflation float64
	ok        bool
}

// tryAll tries each of some frequencies beside those found, on as many cores as there
// are: none needs another.
func tryAll(k, x, w []float64, ps polynomials, found, some []float64) []trial {
	trials := make([]trial, len(some))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(some)) {
		wg.Go(func() {
			freqs := append(slices.Clone(found), 0)
			rows := make([]float64, len(k)*(2+2*len(freqs)))
			for i := next.Add(1) - 1; i < int64(len(some)); i = next.Add(1) - 1 {
				t := trial{f: some[i]}
				freqs[len(found)] = t.f
				if t.clean, t.inflation, t.ok = takeOut(k, x, w, freqs, rows); t.ok {
					t.gain, t.ok = evidence(ps, t.clean, len(freqs))
				}
				trials[i] = t
			}
		})
	}
	wg.Wait()
	return trials
}

// evidence is the log likelihood of the contrasts over all slow noises, less half
// the log of their number for each of the waves' two coefficients.
func evidence(ps polynomials, x []float64, waves int) (float64, bool) {
	cs, _ := ps.contrasts(x, degreesFor(len(x)), 1)
	m, ok := judge(cs, 2*waves)
	if !ok {
		return 0, false
	}
	return m.log - float64(waves)*math.Log(float64(len(cs))), true
}

// candidates returns the frequencies, in turns a beat, worth a try: the arbors'
// and their first overtone's, and the two highest peaks.
func candidates(k, x, w []float64, arbors []Arbor, have []float64) []float64 {
	span := k[len(k)-1] - k[0]
	block := span / float64(len(k)-1)
	var out []float64
	add := func(f float64) {
		// Above the blocks' own frequency a wave is seen by its alias, much weaker;
		// near a whole multiple it hardly moves from block to block.
		if f*span < fewestCycles || math.Abs(math.Remainder(f*block, 1))*span < fewestCycles*block {
			return
		}
		for _, h := range have {
			if math.Abs(f-h)*span < 0.5 {
				return
			}
		}
		out = append(out, f)
	}
	for _, a := range arbors {
		for h := 1.0; h <= harmonics; h++ {
			add(h / a.BeatsPerTurn)
		}
	}
	for _, f := range peaks(k, x, w, span) {
		if !nearArbor(f, 0.5/span, arbors) {
			add(f)
		}
	}
	return out
}

// peaks returns the frequencies of the two peaks that stand out most from both
// their sides, under a raised cosine.
func peaks(k, x, w []float64, span float64) []float64 {
	n := len(x)
	size := 4
	for size < 2*n {
		size *= 2
	}
	var sw, sk, sx, skk, skx float64
	for i := range k {
		u := k[i] - k[0]
		sw, sk, sx, skk, skx = sw+w[i], sk+w[i]*u, sx+w[i]*x[i], skk+w[i]*u*u, skx+w[i]*u*x[i]
	}
	det := sw*skk - sk*sk
	if !(det > 0) {
		return nil
	}
	slope := (sw*skx - sk*sx) / det
	level := (sx - slope*sk) / sw
	y := make([]float64, size)
	for i := range k {
		u := k[i] - k[0]
		y[i] = (x[i] - level - slope*u) * raisedCosine((float64(i)+0.5)/float64(n))
	}
	c := fourier.NewFFT(size).Coefficients(nil, y)
	p := make([]float64, len(c))
	for i, v := range c {
		p[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	cycle := float64(size) / float64(n) // bins of one cycle over the segment
	var ps []summit
	for i := int(leastTurns * cycle); i < len(p)-1; i++ {
		if p[i] < p[i-1] || p[i] < p[i+1] {
			continue
		}
		side := max(around(p, i-int(10*cycle), i-int(3*cycle)), around(p, i+int(3*cycle), i+int(10*cycle)))
		if side > 0 && p[i] > 8*side {
			at := float64(i)
			if d := p[i-1] - 2*p[i] + p[i+1]; d < 0 {
				at += 0.5 * (p[i-1] - p[i+1]) / d
			}
			ps = append(ps, summit{at / cycle / (span * float64(n) / float64(n-1)), p[i] / side})
		}
	}
	slices.SortFunc(ps, byRatio)
	var out []float64
	for _, q := range ps[:min(2, len(ps))] {
		out = append(out, sharpen(k, x, w, span, q.f))
	}
	return out
}

// summit is a frequency in turns a beat, and its power over that on either side.
type summit struct{ f, ratio float64 }

// byRatio sorts the peak that stands out most first; of equals the slower one.
func byRatio(a, b summit) int {
	return cmp.Or(cmp.Compare(b.ratio, a.ratio), cmp.Compare(a.f, b.f))
}

// sharpen moves a peak to where the power is greatest within half a cycle.
func sharpen(k, x, w []float64, span, f float64) float64 {
	best, at := -1.0, f
	w = raised(k, w, span)
	for d := -0.5; d <= 0.5; d += 0.1 {
		if c, ok := raisedFit(k, x, w, span, f+d/span); ok && cmplx.Abs(c) > best {
			best, at = cmplx.Abs(c), f+d/span
		}
	}
	return at
}

func around(p []float64, from, to int) float64 {
	from, to = max(1, from), min(len(p), to)
	if to-from < 3 {
		return 0
	}
	return median(slices.Clone(p[from:to]))
}

// takeOut fits line and waves together by weighted least squares and returns the
// means without the waves, and by what factor the waves widen the slope. rows is room
// for two unknowns of the line and two of each wave at each of the means.
func takeOut(k, x, w, freqs, rows []float64) (y []float64, inflation float64, ok bool) {
	p := 2 + 2*len(freqs)
	n := len(k)
	mid, half := (k[0]+k[n-1])/2, (k[n-1]-k[0])/2
	sym := make([]float64, p*p)
	rhs := make([]float64, p)
	for i := range k {
		row := rows[i*p : i*p+p]
		row[0], row[1] = 1, (k[i]-mid)/half
		for j, f := range freqs {
			s, c := sincosOf(f * (k[i] - k[0]))
			row[2+2*j], row[3+2*j] = c, s
		}
		for a := range p {
			rhs[a] += w[i] * row[a] * x[i]
			for b := range p {
				sym[a*p+b] += w[i] * row[a] * row[b]
			}
		}
	}
	alone := sym[p+1] - sym[1]*sym[1]/sym[0]
	var ch mat.Cholesky
	if !ch.Factorize(mat.NewSymDense(p, sym)) || ch.Cond() > 1e6 {
		return nil, 0, false
	}
	var b mat.VecDense
	var inverse mat.SymDense
	if ch.SolveVecTo(&b, mat.NewVecDense(p, rhs)) != nil || ch.InverseTo(&inverse) != nil {
		return nil, 0, false
	}
	y = make([]float64, n)
	for i := range y {
		y[i] = x[i]
		for j := 2; j < p; j++ {
			y[i] -= b.AtVec(j) * rows[i*p+j]
		}
	}
	return y, math.Sqrt(max(1, inverse.At(1, 1)*alone)), true
}
