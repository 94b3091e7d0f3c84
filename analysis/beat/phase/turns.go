package phase

import "math"

// Turns cuts a run into turns of so many beats, from beat 0 of each segment.
type Turns struct {
	errors []float64 // of the turn that is filling; NaN = missed or not yet
	place  int
}

// Turn is one turn of a wheel.
type Turn struct {
	First  int64     // number of its first beat
	Errors []float64 // time error at each place, NaN for a beat that was missed
	Mean   float64   // of those heard
	Whole  bool      // all were heard
}

// NewTurns returns a Turns for turns of so many beats.
func NewTurns(beats int) *Turns { return &Turns{errors: make([]float64, beats)} }

// Beats returns how many beats a turn has.
func (t *Turns) Beats() int { return len(t.errors) }

// Add takes the next beats and hands each full turn to take. One of which less than
// half was heard is left out.
func (t *Turns) Add(s Series, take func(Turn)) {
	size := int64(len(t.errors))
	if s.Fresh {
		t.place = int(((s.First % size) + size) % size)
		for i := range t.place {
			t.errors[i] = math.NaN()
		}
	}
	k := s.First
	for x := s.Errors; len(x) > 0; {
		turn, n := t.errors, 0
		if t.place == 0 && len(x) >= len(turn) { // a whole turn needs no copy
			turn, n = x[:len(turn)], len(turn)
		} else {
			n = copy(turn[t.place:], x)
			t.place = (t.place + n) % len(turn)
		}
		x, k = x[n:], k+int64(n)
		if t.place > 0 {
			continue
		}
		if turn, ok := summed(turn, k-size); ok {
			take(turn)
		}
	}
}

// summed returns the turn with these time errors, whose first beat has number k.
func summed(errors []float64, k int64) (Turn, bool) {
	even, odd := BySide(errors)
	n, sum := float64(len(errors)), even+odd
	whole := sum == sum
	if !whole {
		n, sum = heard(errors)
	}
	return Turn{First: k, Errors: errors, Mean: sum / n, Whole: whole}, 2*n >= float64(len(errors))
}

// heard returns how many beats of a turn were heard, and the sum of their errors.
func heard(turn []float64) (n, sum float64) {
	for _, v := range turn {
		if v == v {
			n++
			sum += v
		}
	}
	return n, sum
}
