package stability

import (
	"fmt"
	"math"
)

const (
	// thinAbove is the averaging factor above which terms are thinned to every
	// m/thinAbove-th. Where the rate wanders, neighbours there share nearly all
	// their data and leaving them out costs next to nothing; where the phase is
	// white it costs terms, and the interval widens by it (TestStreamThinning).
	thinAbove = 32
	history   = 2 * thinAbove
	blockLen  = 512
	octaves   = 6 // factors 1, 2, 4 … thinAbove
)

// Stream reckons overlapping Allan deviations at octave averaging times of a
// series of phases that comes point by point, in memory that grows only with the
// logarithm of its length (about 5 kB an octave).
//
// Up to m = 32 every term counts; above, every m/32-th.
type Stream struct {
	interval float64
	points   int64 // with gaps
	gaps     int64
	stages   []*stage
}

// NewStream returns a Stream for phases that are interval seconds apart. The
// interval must be positive and finite.
func NewStream(interval float64) (*Stream, error) {
	if err := checkInterval(interval); err != nil {
		return nil, err
	}
	return &Stream{interval: interval, stages: []*stage{{}}}, nil
}

// Add takes the next phase, in seconds: the time by which the beat came late or
// early against an even one (the sign doesn't matter, nor does a steady rate).
// NaN, or an infinity, is a beat that was missed.
func (s *Stream) Add(phase float64) {
	first := s.stages[0]
	if first.n == len(first.buf) {
		s.turn(0)
	}
	if phase-phase != 0 {
		phase = math.NaN()
		s.gaps++
	}
	first.buf[first.n] = phase
	first.n++
	s.points++
}

// turn sums what stage j holds, hands every second point to the next stage and
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
	if j+1 == len(s.stages) {
		if st.n < 3 {
			return // not yet two points to hand on
		}
		s.stages = append(s.stages, &stage{})
	}
	next := s.stages[j+1]
	for ; st.handed < st.n; st.handed++ {
		if st.even = !st.even; !st.even {
			continue
		}
		if next.n == len(next.buf) {
			s.turn(j + 1)
		}
		next.buf[next.n] = st.buf[st.handed]
		next.n++
	}
}

// Points returns how many phases were added, gaps among them.
func (s *Stream) Points() int64 { return s.points }

// Rows returns the table so far, shortest averaging time first: OADev with its
// 68 % interval and the noise where there are points enough to tell it. N counts
// the terms summed, which above m = 32 are thinned. It may be called again and
// again while points are added.
func (s *Stream) Rows() []Row {
	for j := 0; j < len(s.stages); j++ {
		s.sum(j)
	}
	var rows []Row
	var noise Noise
	for k, m := 0, int64(1); 2*m < s.points; k, m = k+1, 2*m {
		st, level := s.stages[0], k
		if k >= octaves {
			j := k - octaves + 1
			if j >= len(s.stages) {
				break
			}
			st, level = s.stages[j], octaves-1
		}
		if k < len(s.stages) {
			if n, ok := s.stages[k].noise(); ok {
				noise = n
			}
		}
		terms := st.terms[level]
		if terms < minTerms {
			continue
		}
		tau := float64(m) * s.interval
		dev := math.Sqrt(st.sums[level]/(2*float64(terms))) / tau
		if math.IsInf(dev, 0) || math.IsNaN(dev) {
			continue
		}
		row := Row{TauS: tau, N: terms, OADev: &dev, Noise: noise}
		// Thinned terms are those of a series of every stride-th point.
		stride := max(1, m/thinAbove)
		row.setInterval((s.points-s.gaps)/stride, m/stride)
		rows = append(rows, row)
	}
	return rows
}

// stage holds phases that are 2^j beats apart. The first stage sums the factors
// 1 to thinAbove, the others thinAbove alone: theirs is thinAbove·2^j beats.
type stage struct {
	buf    [history + blockLen]float64
	n      int  // points in buf
	done   int  // of them, those summed
	handed int  // of them, those offered to the next stage
	even   bool // whether the one offered last was taken
	sums   [octaves]float64
	terms  [octaves]int64

	lag lagSums
}

func (st *stage) sum(all bool) {
	low := octaves - 1
	if all {
		low = 0
	}
	for level := low; level < octaves; level++ {
		m := 1 << level
		start := max(st.done, 2*m)
		if start >= st.n {
			continue
		}
		sum, n := squares(st.buf[start-2*m:st.n], m)
		st.sums[level] += sum
		st.terms[level] += n
	}
	st.sumLags()
	st.done = st.n
}

// makeRoom keeps the points that later terms reach back to.
func (st *stage) makeRoom() {
	copy(st.buf[:history], st.buf[st.n-history:st.n])
	st.n, st.done, st.handed = history, history, history
}

// squares returns the sum of (x[i+2m] − 2x[i+m] + x[i])² and how many terms it
// has; terms with a gap are left out. Four sums side by side, because one sum
// alone waits for its own last addition.
func squares(x []float64, m int) (float64, int64) {
	n := len(x) - 2*m
	a, b, c := x[:n], x[m:m+n], x[2*m:2*m+n]
	var s0, s1, s2, s3 float64
	i := 0
	for ; i+4 <= n; i += 4 {
		a, b, c := a[i:i+4:i+4], b[i:i+4:i+4], c[i:i+4:i+4]
		d0 := c[0] - 2*b[0] + a[0]
		d1 := c[1] - 2*b[1] + a[1]
		d2 := c[2] - 2*b[2] + a[2]
		d3 := c[3] - 2*b[3] + a[3]
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
		s3 += d3 * d3
	}
	for ; i < n; i++ {
		d := c[i] - 2*b[i] + a[i]
		s0 += d * d
	}
	if sum := s0 + s1 + s2 + s3; !math.IsNaN(sum) {
		return sum, int64(n)
	}
	// There is a gap in the block: once more, looking at each term.
	var sum float64
	var terms int64
	for i := range n {
		if d := c[i] - 2*b[i] + a[i]; !math.IsNaN(d) {
			sum += d * d
			terms++
		}
	}
	return sum, terms
}

// sumLags adds the new points' differences of first, second and third order.
func (st *stage) sumLags() {
	start := max(st.done, 3)
	if start < st.n && st.lag.based {
		if sums, ok := lags(st.buf[start-3:st.n], st.lag.base); ok {
			st.lag.add(sums)
			return
		}
	}
	// The beginning of the series, or a gap: each difference is looked at.
	for i := max(st.done, 1); i < st.n; i++ {
		y := st.buf[i] - st.buf[i-1]
		if math.IsNaN(y) {
			continue
		}
		if !st.lag.based {
			st.lag.base, st.lag.based = y, true
		}
		y -= st.lag.base
		st.lag.n++
		st.lag.y += y
		st.lag.yy += y * y
		if i < 2 {
			continue
		}
		if z := st.buf[i] - 2*st.buf[i-1] + st.buf[i-2]; !math.IsNaN(z) {
			st.lag.nz++
			st.lag.zz += z * z
			if i < 3 {
				continue
			}
			if w := z - (st.buf[i-1] - 2*st.buf[i-2] + st.buf[i-3]); !math.IsNaN(w) {
				st.lag.nw++
				st.lag.ww += w * w
			}
		}
	}
}

// lags returns the sums over x from its fourth point on, and false if x has a gap.
func lags(x []float64, base float64) (lagSums, bool) {
	y0 := x[1] - x[0]
	y1 := x[2] - x[1]
	z1, last := y1-y0, x[2]
	y1 -= base
	var y, yy, zz, ww float64
	for _, v := range x[3:] {
		y2 := v - last - base
		z2 := y2 - y1
		w := z2 - z1
		y += y2
		yy += y2 * y2
		zz += z2 * z2
		ww += w * w
		last, y1, z1 = v, y2, z2
	}
	if math.IsNaN(ww) {
		return lagSums{}, false
	}
	n := int64(len(x) - 3)
	return lagSums{n: n, nz: n, nw: n, y: y, yy: yy, zz: zz, ww: ww}, true
}

func (st *stage) noise() (Noise, bool) { return st.lag.noise() }

func checkInterval(interval float64) error {
	if !(interval > 0) || math.IsInf(interval, 0) {
		return &InputError{Name: "interval", Value: fmt.Sprintf("%g s", interval), Remedy: "give the time between points in seconds, above 0"}
	}
	return nil
}
