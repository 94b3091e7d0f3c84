package stability

import (
	"fmt"
	"math"

	"evenbeat/devices/quantity"
)

const (
	// thinAbove is the averaging factor above which only every m/thinAbove-th term
	// counts. Where the rate wanders, neighbouring terms share nearly all their data and
	// leaving them out costs next to nothing. With white phase noise it costs terms, and
	// the interval is wider (TestStreamThinning).
	thinAbove = 32
	history   = 2 * thinAbove
	blockLen  = 512
	octaves   = 6 // factors 1, 2, 4 … thinAbove

	// The noise is identified from all points of the first allBlocks blocks of a stage
	// (16384 points give the autocorrelation to 0.008, and neighbouring kinds lie 0.16
	// apart or more), and from one block in oneIn after that.
	allBlocks = 32
	oneIn     = 8
)

// Stream computes overlapping Allan deviations at octave averaging times of a series of
// phases that comes point by point. Its memory grows with the logarithm of the length,
// about 5 kB an octave.
//
// Up to m = 32 every term counts, above that every m/32-th. In a long series an eighth of
// the points identifies the noise.
type Stream struct {
	interval float64
	points   int64 // with gaps
	gaps     int64
	stages   []*stage
	means    means
}

// NewStream returns a Stream for phases that are interval seconds apart. The
// interval must be positive and finite.
func NewStream(interval float64) (*Stream, error) {
	if err := checkInterval(interval); err != nil {
		return nil, err
	}
	return &Stream{interval: interval, stages: []*stage{newStage()}}, nil
}

// Add takes the next phase in seconds: by how much the beat was late or early (neither
// the sign nor a steady rate matters). NaN or infinity is a missed beat.
func (s *Stream) Add(phase float64) { s.AddAll([]float64{phase}, 0) }

// AddAll takes the next phases, in seconds, each with shift added. See Add.
func (s *Stream) AddAll(phases []float64, shift float64) {
	first := s.stages[0]
	for len(phases) > 0 {
		if first.n == len(first.buf) {
			s.turn(0)
		}
		n := min(len(phases), len(first.buf)-first.n)
		room := first.buf[first.n : first.n+n]
		last := first.buf[first.n-1]
		for i, v := range phases[:len(room)] {
			if v += shift; !(math.Abs(v) <= math.MaxFloat64) {
				first.mark(first.n + i)
				s.gaps++
				v = last
			}
			room[i] = v
			last = v
		}
		first.n += n
		s.points += int64(n)
		phases = phases[n:]
	}
}

// turn sums the new points of stage j, hands every second point to the next stage and
// makes room.
func (s *Stream) turn(j int) {
	s.sum(j)
	s.stages[j].makeRoom()
}

// sum brings the sums of stage j and of those above it up to date. Calling it
// again without new points changes nothing.
func (s *Stream) sum(j int) {
	st := s.stages[j]
	st.sum(j == 0)
	if j == 0 {
		st.average(&s.means)
	}
	if j+1 == len(s.stages) {
		if st.n < history+3 {
			return // not yet two points to hand on
		}
		s.stages = append(s.stages, newStage())
	}
	next := s.stages[j+1]
	for st.handed < st.n {
		if st.odd {
			st.handed++
			st.odd = false
			continue
		}
		if next.n == len(next.buf) {
			s.turn(j + 1)
		}
		from, to := st.buf[st.handed:st.n], next.buf[next.n:]
		n := min((len(from)+1)/2, len(to))
		to = to[:n]
		for i := range to {
			to[i] = from[2*i]
		}
		for g := st.gapFrom(st.handed); g < st.handed+2*n; g = st.gapFrom(g + 1) {
			if (g-st.handed)&1 == 0 {
				next.mark(next.n + (g-st.handed)/2)
			}
		}
		next.n += n
		st.handed += 2*n - 1
		st.odd = true
	}
}

// Rows returns the table so far, shortest averaging time first: OADev with its 68 %
// interval, and the noise where there are enough points to identify it. N counts the
// terms summed, which are thinned above m = 32. Points may be added between calls.
func (s *Stream) Rows() []Row {
	for j := 0; j < len(s.stages); j++ {
		s.sum(j)
	}
	var rows []Row
	var short, noise Noise
	for k, m := 0, int64(1); 2*m < s.points; k, m = k+1, 2*m {
		st, level := s.stages[0], k
		if k >= octaves {
			j := k - octaves + 1
			if j >= len(s.stages) {
				break
			}
			st, level = s.stages[j], octaves-1
		}
		terms := st.terms[level]
		square := st.sums[level] / float64(terms)
		if k < len(s.stages) {
			mod, runs := s.means.at(m)
			if n, ok := named(s.stages[k].lag, m, short, mod, square, runs); ok {
				noise = n
			}
			if m == 2 {
				short = noise
			}
		}
		if terms < 2 {
			continue // without an interval
		}
		tau := float64(m) * s.interval
		dev := math.Sqrt(square/2) / tau
		if math.IsInf(dev, 0) || math.IsNaN(dev) {
			continue
		}
		row := Row{TauS: tau, N: terms, OADev: &dev, Noise: noise}
		row.setInterval(s.points-s.gaps, m, max(1, m/thinAbove))
		rows = append(rows, row)
	}
	return rows
}

func checkInterval(interval float64) error {
	if !(interval > 0) || math.IsInf(interval, 0) {
		return quantity.BadInput("interval", fmt.Sprintf("%g s", interval), "give the time between points in seconds, above 0")
	}
	return nil
}
