package beat

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

const (
	windowTurns  = 4  // of a wheel, under one window
	itemsPerTurn = 24 // means of neighbouring beats that a turn is seen by
	harmonics    = 2
)

// wave listens for what repeats with the turn of one wheel. Over windows of four
// turns it fits line and harmonics by least squares, weighted with a raised
// cosine so that a wandering rate doesn't get in; the amplitudes of all windows
// are then averaged, and their scatter says how sure the mean is.
type wave struct {
	period float64 // beats a turn
	length int64   // beats of an item

	id    int64 // item being summed
	n, sx float64
	open  bool
	start float64 // beat at which the window begins
	t, x  []float64

	count float64
	sum   [harmonics]complex128
	power [harmonics]float64
}

func newWave(period float64) *wave {
	return &wave{period: period, length: max(1, int64(period/itemsPerTurn))}
}

func (w *wave) add(st *stretch) {
	if st.fresh {
		w.t, w.x = w.t[:0], w.x[:0]
		w.open, w.n, w.sx = false, 0, 0
	}
	for i := 0; i < st.n; {
		k := st.k + int64(i)
		if !w.open {
			w.open, w.start, w.id = true, float64(k), k/w.length
		}
		if id := k / w.length; id != w.id {
			w.item()
			w.id = id
		}
		end := min(st.n, i+int((w.id+1)*w.length-k))
		n, s := 0.0, 0.0
		for _, v := range st.x[i:end] {
			if v == v {
				n++
				s += v
			}
		}
		w.n += n
		w.sx += s
		i = end
	}
}

// item takes the finished item into the window.
func (w *wave) item() {
	mid := (float64(w.id)+0.5)*float64(w.length) - 0.5
	if mid-w.start >= windowTurns*w.period {
		w.window()
		w.start += windowTurns * w.period
		w.t, w.x = w.t[:0], w.x[:0]
		if mid-w.start >= windowTurns*w.period { // a long gap
			w.start = mid
		}
	}
	if 2*w.n >= float64(w.length) {
		w.t, w.x = append(w.t, mid), append(w.x, w.sx/w.n)
	}
	w.n, w.sx = 0, 0
}

// window fits the window that is full.
func (w *wave) window() {
	if len(w.t) < 3*windowTurns*itemsPerTurn/4 {
		return
	}
	a, ok := fitHarmonics(w.t, w.x, w.start, windowTurns*w.period, w.period)
	if !ok {
		return
	}
	w.count++
	for h := range harmonics {
		w.sum[h] += a[h]
		w.power[h] += real(a[h])*real(a[h]) + imag(a[h])*imag(a[h])
	}
}

// fitHarmonics returns the amplitudes of the harmonics of a period in x at times
// t, as c with x = … + Re(c·exp(−2πi·h·t/period)), by least squares with a line,
// under a raised cosine over the span from start.
func fitHarmonics(t, x []float64, start, span, period float64) (c [harmonics]complex128, ok bool) {
	const p = 2 + 2*harmonics
	var n [p * p]float64
	var y [p]float64
	var row [p]float64
	for i, v := range t {
		u := (v - start) / span
		weight := 1 - math.Cos(2*math.Pi*u)
		row[0], row[1] = 1, u-0.5
		for h := range harmonics {
			s, co := math.Sincos(2 * math.Pi * math.Mod(float64(h+1)*v/period, 1))
			row[2+2*h], row[3+2*h] = co, s
		}
		for j := range p {
			y[j] += weight * row[j] * x[i]
			for k := range p {
				n[j*p+k] += weight * row[j] * row[k]
			}
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(mat.NewSymDense(p, n[:])) || ch.Cond() > 1e8 {
		return c, false
	}
	var b mat.VecDense
	if ch.SolveVecTo(&b, mat.NewVecDense(p, y[:])) != nil {
		return c, false
	}
	for h := range harmonics {
		c[h] = complex(b.AtVec(2+2*h), b.AtVec(3+2*h))
		if cmplx.IsNaN(c[h]) || cmplx.IsInf(c[h]) {
			return c, false
		}
	}
	return c, true
}
