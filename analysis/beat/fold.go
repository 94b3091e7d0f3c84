package beat

import (
	"math"

	"evenbeat/devices/quantity"
)

const mostPlaces = 1024

// fold lays the turns of one wheel over each other, beat by beat: what repeats
// with the turn stays, the rest averages out. Each turn is taken about its own
// mean, so that a wandering rate doesn't get in.
type fold struct {
	turn      []float64 // phases of the turn that is filling; NaN = missed or not yet
	place     int
	n         []float64
	sum, sum2 []float64
	turns     float64
}

func newFold(beatsPerTurn int) *fold {
	return &fold{turn: make([]float64, beatsPerTurn), n: make([]float64, beatsPerTurn),
		sum: make([]float64, beatsPerTurn), sum2: make([]float64, beatsPerTurn)}
}

func (f *fold) add(st *stretch) {
	size := int64(len(f.turn))
	if st.fresh {
		f.place = int(((st.k % size) + size) % size)
		for i := range f.place {
			f.turn[i] = math.NaN()
		}
	}
	for _, v := range st.x[:st.n] {
		f.turn[f.place] = v
		if f.place++; f.place == len(f.turn) {
			f.close()
			f.place = 0
		}
	}
}

// close adds the full turn. One of which less than half was heard is left out.
func (f *fold) close() {
	var n, s float64
	for _, v := range f.turn {
		if v == v {
			n++
			s += v
		}
	}
	if 2*n < float64(len(f.turn)) {
		return
	}
	mean := s / n
	f.turns++
	for i, v := range f.turn {
		if v == v {
			v -= mean
			f.n[i]++
			f.sum[i] += v
			f.sum2[i] += v * v
		}
	}
}

// points returns the mean residual of each place, with the slope (seconds a beat,
// against the even clock) and the difference of tick and tock taken out.
func (f *fold) points(slope float64) []FoldPoint {
	if f.turns < 3 {
		return nil
	}
	size := len(f.turn)
	mean := make([]float64, size)
	var even, odd float64
	for i := range mean {
		if f.n[i] < 3 {
			return nil
		}
		mean[i] = f.sum[i]/f.n[i] - slope*(float64(i)-float64(size-1)/2)
		if i&1 == 0 {
			even += mean[i]
		} else {
			odd += mean[i]
		}
	}
	even /= float64((size + 1) / 2)
	odd /= math.Max(1, float64(size/2))
	if size&1 != 0 { // ticks and tocks change place with each turn
		even = (even*float64((size+1)/2) + odd*float64(size/2)) / float64(size)
		odd = even
	}
	out := make([]FoldPoint, size)
	for i := range out {
		m := f.sum[i] / f.n[i]
		u := math.Sqrt(math.Max(0, f.sum2[i]/f.n[i]-m*m) / (f.n[i] - 1))
		v := mean[i] - even
		if i&1 != 0 {
			v = mean[i] - odd
		}
		out[i] = FoldPoint{Place: i, ResidualS: quantity.Value{V: v, U: u}}
	}
	return out
}
