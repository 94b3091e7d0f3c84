package periodic

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

	"evenbeat/analysis/beat/phase"
)

const (
	mostWaves = 6
	// fewestMeans are needed to look for waves.
	fewestMeans = 24
	// worthIt is the gain in log likelihood, beyond the cost of its two coefficients
	// (Schwarz), for which a wave is believed: e³ to one.
	worthIt = 3.0
	// searched is added for a wave that no arbor explains: it is the best of some
	// hundred frequencies.
	searched = 4.6
	// fewestCycles: a wave of fewer can't be told from a wandering rate.
	fewestCycles = 1.5
	// wholeTurn of a known arbor is enough, since its period is known; less than one by
	// what a run lacks at its ends.
	wholeTurn = 0.9
)

// Waves are those that were taken out of a segment.
type Waves struct {
	Freqs     []float64 // turns a beat
	Inflation float64   // by what factor they make the slope less sure
	Rise      float64   // of their sum from the first beat to the last, seconds
}

// TakeOut finds the waves in a segment's means that would bend a line through them: those
// of the known arbors, and others that stand out of the spectrum. evidence
// is the log likelihood of time errors at the means, less the cost of so many waves; a
// wave is taken when it raises that. TakeOut returns the time errors without the waves.
// It calls evidence from several goroutines at once.
func TakeOut(m phase.Means, arbors []Arbor, evidence func(x []float64, waves int) (float64, bool)) (clean []float64, w Waves) {
	clean, w.Inflation = m.X, 1
	if len(m.K) < fewestMeans {
		return clean, w
	}
	best, ok := evidence(m.X, 0)
	if !ok {
		return clean, w
	}
	for found := true; found && len(w.Freqs) < mostWaves; {
		found = false
		var next float64
		left := phase.Means{K: m.K, X: clean, W: m.W}
		for _, t := range tryAll(m, w.Freqs, candidates(left, arbors, w.Freqs), evidence) {
			need := best + worthIt
			if !nearArbor(t.f, 0.01/m.Span(), arbors) {
				need += searched
			}
			if t.ok && t.gain > need {
				best, next, found = t.gain, t.f, true
				clean, w.Inflation, w.Rise = t.clean, t.inflation, t.rise
			}
		}
		if found {
			w.Freqs = append(w.Freqs, next)
		}
	}
	return clean, w
}

// trial is what the time errors are without one wave more.
type trial struct {
	f, gain   float64 // its frequency, and the evidence
	clean     []float64
	inflation float64
	rise      float64
	ok        bool
}

// tryAll tries each of some frequencies beside those found, on all cores.
func tryAll(m phase.Means, found, some []float64, evidence func([]float64, int) (float64, bool)) []trial {
	trials := make([]trial, len(some))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(some)) {
		wg.Go(func() {
			freqs := append(slices.Clone(found), 0)
			rows := make([]float64, len(m.K)*(2+2*len(freqs)))
			for i := next.Add(1) - 1; i < int64(len(some)); i = next.Add(1) - 1 {
				t := trial{f: some[i]}
				freqs[len(found)] = t.f
				if t.clean, t.inflation, t.rise, t.ok = without(m, freqs, rows); t.ok {
					t.gain, t.ok = evidence(t.clean, len(freqs))
				}
				trials[i] = t
			}
		})
	}
	wg.Wait()
	return trials
}

// candidates returns the frequencies, in turns a beat, worth a try: the arbors'
// and their first overtone's, and the two highest peaks.
func candidates(m phase.Means, arbors []Arbor, have []float64) []float64 {
	span := m.Span()
	block := span / float64(len(m.K)-1)
	var out []float64
	add := func(f, fewest float64) {
		// Above the blocks' own frequency a wave shows as a much weaker alias; near a
		// whole multiple of that frequency it hardly changes from block to block.
		if f*span < fewest || math.Abs(math.Remainder(f*block, 1))*span < fewest*block {
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
			add(h/a.BeatsPerTurn, h*wholeTurn)
		}
	}
	for _, f := range peaks(m) {
		if !nearArbor(f, 0.5/span, arbors) {
			add(f, fewestCycles)
		}
	}
	return out
}

// peaks returns the frequencies of the two peaks that stand out most from both
// their sides, under a raised cosine.
func peaks(m phase.Means) []float64 {
	n, span := len(m.K), m.Span()
	y, ok := detrended(m)
	if !ok {
		return nil
	}
	p := powers(fourier.NewFFT(len(y)).Coefficients(nil, y))
	cycle := float64(len(y)) / float64(n) // bins of one cycle over the segment
	var ps []peak
	for i := int(LeastTurns * cycle); i < len(p)-1; i++ {
		if p[i] < p[i-1] || p[i] < p[i+1] {
			continue
		}
		side := max(around(p, i-int(10*cycle), i-int(3*cycle)), around(p, i+int(3*cycle), i+int(10*cycle)))
		if side > 0 && p[i] > 8*side {
			at := float64(i)
			if d := p[i-1] - 2*p[i] + p[i+1]; d < 0 {
				at += 0.5 * (p[i-1] - p[i+1]) / d
			}
			ps = append(ps, peak{at / cycle / (span * float64(n) / float64(n-1)), p[i] / side})
		}
	}
	slices.SortFunc(ps, byRatio)
	var out []float64
	for _, q := range ps[:min(2, len(ps))] {
		out = append(out, sharpen(m, q.f))
	}
	return out
}

// detrended returns the time errors without their line, under a raised cosine, padded
// with zeros to a power of two of at least twice their number.
func detrended(m phase.Means) ([]float64, bool) {
	n, size := len(m.K), 4
	for size < 2*n {
		size *= 2
	}
	var sw, sk, sx, skk, skx float64
	for i, k := range m.K {
		u, w, x := k-m.K[0], m.W[i], m.X[i]
		sw, sk, sx, skk, skx = sw+w, sk+w*u, sx+w*x, skk+w*u*u, skx+w*u*x
	}
	det := sw*skk - sk*sk
	if !(det > 0) {
		return nil, false
	}
	slope := (sw*skx - sk*sx) / det
	level := (sx - slope*sk) / sw
	y := make([]float64, size)
	for i, k := range m.K {
		u := k - m.K[0]
		y[i] = (m.X[i] - level - slope*u) * raisedCosine((float64(i)+0.5)/float64(n))
	}
	return y, true
}

// powers returns the power of each coefficient.
func powers(c []complex128) []float64 {
	p := make([]float64, len(c))
	for i, v := range c {
		p[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	return p
}

// peak is a frequency in turns a beat, and its power over that on either side.
type peak struct{ f, ratio float64 }

// byRatio sorts the peak that stands out most first; of equals the slower one.
func byRatio(a, b peak) int {
	return cmp.Or(cmp.Compare(b.ratio, a.ratio), cmp.Compare(a.f, b.f))
}

// sharpen moves a peak to where the power is greatest within half a cycle.
func sharpen(m phase.Means, f float64) float64 {
	best, at := -1.0, f
	m = raised(m)
	for d := -0.5; d <= 0.5; d += 0.1 {
		if c, ok := sinusoid(m, f+d/m.Span()); ok && cmplx.Abs(c) > best {
			best, at = cmplx.Abs(c), f+d/m.Span()
		}
	}
	return at
}

func around(p []float64, from, to int) float64 {
	return middle(p[max(1, min(from, len(p))):max(1, min(len(p), to))])
}

// without fits line and waves together by weighted least squares and returns the
// time errors without the waves, by what factor the waves widen the slope, and by how
// much they rise from the first beat to the last. rows is room for two unknowns of the line
// and two of each wave at each of the means.
func without(m phase.Means, freqs, rows []float64) (y []float64, inflation, rise float64, ok bool) {
	p := 2 + 2*len(freqs)
	n := len(m.K)
	mid, half := (m.K[0]+m.K[n-1])/2, m.Span()/2
	for i, k := range m.K {
		row := rows[i*p : i*p+p]
		row[0], row[1] = 1, (k-mid)/half
		for j, f := range freqs {
			row[3+2*j], row[2+2*j] = sincosOf(f * (k - m.K[0]))
		}
	}
	sym, ch, b, ok := leastSquares(rows[:n*p], p, m.W, m.X)
	var inverse mat.SymDense
	if !ok || ch.InverseTo(&inverse) != nil {
		return nil, 0, 0, false
	}
	y = slices.Clone(m.X)
	for i := range y {
		for j := 2; j < p; j++ {
			y[i] -= b[j] * rows[i*p+j]
		}
	}
	alone := sym.At(1, 1) - sym.At(0, 1)*sym.At(0, 1)/sym.At(0, 0)
	for j, f := range freqs {
		s0, c0 := sincosOf(f * -(m.W[0] - 1) / 2)
		s1, c1 := sincosOf(f * (m.K[n-1] - m.K[0] + (m.W[n-1]-1)/2))
		// A mean over a block has less of the wave than a beat.
		size := m.Span() / float64(n-1)
		seen := math.Sin(math.Pi*f*size) / (size * math.Sin(math.Pi*f))
		rise += (b[2+2*j]*(c1-c0) + b[3+2*j]*(s1-s0)) / seen
	}
	return y, math.Sqrt(max(1, inverse.At(1, 1)*alone)), rise, true
}

// TurnsTooSeldom reports whether an arbor turned too seldom in a run of so many beats to
// have its wave taken out.
func (a Arbor) TurnsTooSeldom(beats float64) bool { return beats < wholeTurn*a.BeatsPerTurn }
