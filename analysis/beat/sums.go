package beat

import (
	"math"

	"evenbeat/analysis/stability"
)

// sums is all that is kept of the beats: it takes stretches in order and its size
// doesn't grow with the run but for the logarithm.
type sums struct {
	ref    float64 // seconds, of the even clock that phases are against
	blocks blocks
	apart  float64 // by which even beats were taken earlier and odd ones later, seconds
	waves  []*wave // in the order of the arbors
	quick  *wave   // takes the beats for all
	fold   *fold
	phases phases // for a clock whose train isn't known
	trace  trace
	stable *stability.Stream
	lastX  float64
	shift  float64 // makes the phase run on over a break, for stable
}

func newSums(arbors []Arbor) *sums {
	s := &sums{}
	var periods []float64
	for _, a := range arbors {
		periods = append(periods, a.BeatsPerTurn)
	}
	s.waves, s.quick = newWaves(periods)
	s.phases.keep = len(arbors) == 0
	s.fold = newFold(escapePlaces(arbors))
	return s
}

// escapePlaces returns the beats of one turn of the quickest arbor, the escape
// wheel's, or 0 when that is no whole number or too large to lay out.
func escapePlaces(arbors []Arbor) int {
	least := 0.0
	for _, a := range arbors {
		if least == 0 || a.BeatsPerTurn < least {
			least = a.BeatsPerTurn
		}
	}
	if least < 4 || least > mostPlaces || math.Abs(least-math.Round(least)) > 1e-9 {
		return 0
	}
	return int(math.Round(least))
}

func (s *sums) begin(ref, apart float64) {
	s.ref, s.apart = ref, apart
	// The interval was found from the events, so it is above 0 and finite; a
	// stream that refused it would only mean a table left out.
	if st, err := stability.NewStream(ref); err == nil {
		s.stable = st
	}
}

// add takes the next stretch.
func (s *sums) add(st *stretch) {
	s.blocks.add(st)
	s.phases.add(st)
	s.trace.add(st)
	if s.quick != nil {
		s.quick.add(st)
	}
	s.fold.add(st)
	if s.stable == nil {
		return
	}
	x := st.x[:st.n]
	if st.fresh && st.n > 0 {
		s.stable.Add(math.NaN())
		s.shift = s.lastX - x[0]
	}
	s.stable.AddAll(x, s.shift)
	for i := len(x) - 1; i >= 0; i-- {
		if x[i] == x[i] {
			s.lastX = x[i] + s.shift
			break
		}
	}
}
