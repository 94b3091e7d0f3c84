package periodic

import (
	"cmp"
	"math"
	"slices"

	"evenbeat/analysis/beat/phase"
)

const (
	windowTurns  = 4  // of a wheel, under one window
	itemsPerTurn = 12 // at least
	harmonics    = 2
	unknowns     = 2 + 2*harmonics // level, slope, and each harmonic's cosine and sine
	leastPivot   = 1e-9            // of the first one: less says that the means are too few
)

// Harmonics finds what repeats with the turns of some wheels, by harmonic regression.
type Harmonics struct {
	waves []*wave // in the order of the wheels
	quick *wave   // takes the beats for all; nil for none
}

// NewHarmonics returns a Harmonics for the turns of some arbors.
func NewHarmonics(arbors []Arbor) *Harmonics {
	h := &Harmonics{}
	for _, a := range arbors {
		w := &wave{period: a.BeatsPerTurn, length: 1}
		for float64(2*w.length*itemsPerTurn) <= w.period {
			w.length *= 2
			w.shift++
		}
		w.layOut()
		h.waves = append(h.waves, w)
	}
	chain := slices.Clone(h.waves)
	slices.SortStableFunc(chain, func(a, b *wave) int { return cmp.Compare(a.length, b.length) })
	for i, w := range chain {
		if i == 0 {
			h.quick = w
		} else {
			chain[i-1].slower = w
		}
	}
	return h
}

// Add takes the next beats.
func (h *Harmonics) Add(s phase.Series) {
	if h.quick != nil {
		h.quick.add(s)
	}
}

// wave is the harmonic regression on the turns of one wheel. Over windows of four
// turns it fits line and harmonics by least squares, weighted with a raised
// cosine against a wandering rate. The amplitudes of all windows are then averaged, and
// the uncertainty of the mean comes from their scatter.
//
// Neighbouring beats are first summed into items of a power of two, so that a slow
// wheel's wave can take its items from a quick one's.
type wave struct {
	period float64 // beats a turn
	length int64   // beats of an item, a power of two
	shift  uint    // of which power
	slower *wave   // takes this one's items

	open bool
	id   int64 // of the item being summed: its first beat over length
	n, x float64

	base    int64                  // id of the window's first item
	means   []float64              // of the window's items so far; NaN = too little heard
	heard   int                    // of them, those that aren't NaN
	fit     [2 * harmonics]float64 // the amplitudes so far, for a window without gaps
	rows    [][unknowns]float64
	weights []float64                // of the items, a raised cosine
	whole   [][2 * harmonics]float64 // amplitudes of a window without gaps, as weights of its items

	count float64
	sum   [harmonics]complex128
	power [harmonics]float64
}

// layOut sets up the rows of the unknowns, the weights, and what each item of a window
// without gaps adds to the amplitudes.
func (w *wave) layOut() {
	n := int(math.Round(windowTurns * w.period / float64(w.length)))
	w.means = make([]float64, 0, n)
	w.rows, w.weights = make([][unknowns]float64, n), make([]float64, n)
	for i := range n {
		u := (float64(i) + 0.5) / float64(n)
		turn := (float64(i)+0.5)*float64(w.length) - 0.5
		row := [unknowns]float64{1, u - 0.5}
		for h := range harmonics {
			row[3+2*h], row[2+2*h] = sincosOf(float64(h+1) * turn / w.period)
		}
		w.rows[i] = row
		w.weights[i] = raisedCosine(u)
	}
	w.whole = make([][2 * harmonics]float64, n)
	for c := range unknowns {
		eq := w.normal(make([]float64, n))
		eq.m[c*(unknowns+1)+unknowns] = 1
		column, ok := eq.solve(leastPivot)
		if !ok {
			return
		}
		for i := range n {
			for h := range w.whole[i] {
				w.whole[i][h] += column[2+h] * w.weights[i] * w.rows[i][c]
			}
		}
	}
}

// normal returns the equations for means, leaving out those that are NaN.
func (w *wave) normal(means []float64) equations {
	eq := newEquations(unknowns)
	for i, x := range means {
		if x == x {
			eq.add(w.rows[i][:], w.weights[i], x)
		}
	}
	for j := range unknowns { // alike on both sides of the diagonal, to the last bit
		for k := range j {
			eq.m[j*(unknowns+1)+k] = eq.m[k*(unknowns+1)+j]
		}
	}
	return eq
}

// add takes the beats themselves.
func (w *wave) add(s phase.Series) {
	if s.Fresh {
		for slow := w; slow != nil; slow = slow.slower {
			slow.open = false
		}
	}
	x := s.Errors
	missed, whole := 0, 0
	for i := 0; i < len(x); {
		if whole <= i {
			whole, missed = s.Whole(i, len(x), missed)
		}
		k := s.First + int64(i)
		id := k >> w.shift
		left := int((id+1)<<w.shift - k) // of the item
		if left == int(w.length) && left <= whole-i {
			i += w.addWhole(id, x[i:whole])
			continue
		}
		end := min(len(x), i+left)
		n, sum := 0.0, 0.0
		for _, v := range x[i:end] {
			if v == v {
				n++
				sum += v
			}
		}
		w.take(id, n, sum)
		i = end
	}
}

// take adds to item id the sum x of n time errors.
func (w *wave) take(id int64, n, x float64) {
	if !w.open || id != w.id {
		w.begin(id)
	}
	w.n += n
	w.x += x
}

// begin ends the item before and begins item id.
func (w *wave) begin(id int64) {
	if w.open {
		w.item()
	} else {
		w.open = true
		w.beginWindow(id)
	}
	w.id, w.n, w.x = id, 0, 0
}

func (w *wave) beginWindow(id int64) {
	w.base, w.means, w.heard = id, w.means[:0], 0
	w.fit = [2 * harmonics]float64{}
}

// item adds the finished item to the window, and hands it to the slower wave.
func (w *wave) item() {
	at := w.id - w.base
	if at >= int64(len(w.rows)) { // after a gap
		w.window()
		w.beginWindow(w.id)
		at = 0
	}
	for int64(len(w.means)) < at {
		w.means = append(w.means, math.NaN())
	}
	mean := math.NaN()
	if 2*w.n >= float64(w.length) {
		mean = w.x / w.n
		w.heard++
		row := &w.whole[at]
		w.fit[0] += row[0] * mean
		w.fit[1] += row[1] * mean
		w.fit[2] += row[2] * mean
		w.fit[3] += row[3] * mean
	}
	w.means = append(w.means, mean)
	if len(w.means) == len(w.rows) {
		w.window()
		w.beginWindow(w.id + 1)
	}
	if w.slower != nil {
		w.slower.take(w.id>>(w.slower.shift-w.shift), w.n, w.x)
	}
}

// window fits the window, which is full or was cut short.
func (w *wave) window() {
	c, ok := w.fit, w.heard == len(w.rows)
	if !ok && 4*w.heard >= 3*len(w.rows) {
		var b []float64
		b, ok = w.normal(w.means).solve(leastPivot)
		copy(c[:], b[2:])
	}
	if !ok {
		return
	}
	w.count++
	s, co := sincosOf(float64(w.base*w.length) / w.period)
	once := complex(co, s)
	to := complex(1, 0)
	for h := range harmonics {
		to *= once // turned back to the segment's first beat, as often as the harmonic turns
		a := complex(c[2*h], c[2*h+1]) * to
		w.sum[h] += a
		w.power[h] += real(a)*real(a) + imag(a)*imag(a)
	}
}
