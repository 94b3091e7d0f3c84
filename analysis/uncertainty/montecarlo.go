package uncertainty

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Drawn is the result of a Monte Carlo of one figure.
type Drawn struct {
	N         int64
	Mean, U   float64
	Low, High float64 // probabilistically symmetric 95 % interval
	// ShortLow and ShortHigh bound the shortest interval that holds 95 %.
	ShortLow, ShortHigh float64
	// Lost counts the draws without a finite value, which are left out of the rest.
	Lost int64
}

// Bounds of the number of draws. Fewer than 1000 leave fewer than 25 values outside the
// interval on each side, and its ends are noise. More than 1e7 take 80 MB.
const (
	MinDraws = 1000
	MaxDraws = 10_000_000
)

// ErrLost is the cause of the error when most draws have no finite value.
var ErrLost = errors.New("most draws have no finite value")

// MonteCarlo draws the inputs n times from their errors and returns the distribution of
// y = f(x) (JCGM 101:2008, 7.2 to 7.7). In each round every error, by its key, is drawn
// once, whatever inputs share it. A Student error is drawn as s/√n times Student's t
// (6.4.9), so that its standard deviation is more than its U. Errors of one estimate of
// scatter share the draw of that scatter. The same seed gives the same draws.
func MonteCarlo(n int64, seed uint64, in []Quantity, f func(x []float64) float64) (Drawn, error) {
	if n < MinDraws || n > MaxDraws {
		return Drawn{}, fmt.Errorf("%d draws are too few or too many: take %d to %d", n, MinDraws, MaxDraws)
	}
	if _, err := values(in); err != nil {
		return Drawn{}, err
	}
	draw := newSampler(in, seed)
	got := make([]float64, 0, n)
	out := Drawn{N: n}
	for range n {
		y := f(draw.next())
		if math.IsNaN(y) || math.IsInf(y, 0) {
			out.Lost++
			continue
		}
		got = append(got, y)
	}
	if int64(len(got)) < n/2 {
		return Drawn{}, fmt.Errorf("%w (%d of %d)", ErrLost, out.Lost, n)
	}
	slices.Sort(got)
	m := float64(len(got))
	for _, y := range got {
		out.Mean += y / m
	}
	for _, y := range got {
		out.U += (y - out.Mean) * (y - out.Mean) / (m - 1)
	}
	out.U = math.Sqrt(out.U)
	// JCGM 101:2008, 7.7.2: the interval holds q of m sorted values.
	q := int(0.95*m + 0.5)
	r := (len(got) - q) / 2
	out.Low, out.High = got[r], got[min(r+q, len(got)-1)]
	best := math.Inf(1)
	for i := 0; i+q < len(got); i++ {
		if w := got[i+q] - got[i]; w < best {
			best, out.ShortLow, out.ShortHigh = w, got[i], got[i+q]
		}
	}
	return out, nil
}

// sampler draws inputs whose errors are shared by key.
type sampler struct {
	in       []Quantity
	rng      *rand.Rand
	errs     []Source // one a distinct error
	drawn    []float64
	which    [][]int // for each input and source, the place of its error in errs
	x        []float64
	scatters []distuv.ChiSquared // one an estimate of scatter
	wider    []float64           // by how much the true scatter of each is more in this draw
	by       map[int]int         // for each Student error, the place of its estimate in scatters
}

func newSampler(in []Quantity, seed uint64) *sampler {
	src := rand.NewPCG(seed, 0x5eed)
	s := &sampler{in: in, rng: rand.New(src), x: make([]float64, len(in)), by: map[int]int{}}
	at, estimates := map[string]int{}, map[string]int{}
	for _, q := range in {
		places := make([]int, len(q.Sources))
		for j, e := range q.Sources {
			key := e.Key
			if i, ok := at[key]; ok && key != "" {
				places[j] = i
				continue
			}
			places[j] = len(s.errs)
			at[key] = len(s.errs)
			if e.Shape == Student {
				i, known := estimates[e.Estimate]
				if !known || e.Estimate == "" {
					i = len(s.scatters)
					estimates[e.Estimate] = i
					s.scatters = append(s.scatters, distuv.ChiSquared{K: e.DoF, Src: src})
				}
				s.by[len(s.errs)] = i
			}
			s.errs = append(s.errs, e)
		}
		s.which = append(s.which, places)
	}
	s.drawn, s.wider = make([]float64, len(s.errs)), make([]float64, len(s.scatters))
	return s
}

// next returns one draw of the inputs; the slice is reused.
func (s *sampler) next() []float64 {
	for i, chi := range s.scatters {
		s.wider[i] = math.Sqrt(chi.K / chi.Rand())
	}
	for i, e := range s.errs {
		switch e.Shape {
		case Rectangular:
			s.drawn[i] = math.Sqrt(3) * (2*s.rng.Float64() - 1)
		case Student:
			s.drawn[i] = s.wider[s.by[i]] * s.rng.NormFloat64()
		default:
			s.drawn[i] = s.rng.NormFloat64()
		}
	}
	for i, q := range s.in {
		s.x[i] = q.V
		for j, e := range q.Sources {
			s.x[i] += e.U * s.drawn[s.which[i][j]]
		}
	}
	return s.x
}
