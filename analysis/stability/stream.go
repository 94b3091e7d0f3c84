package stability

import (
	"fmt"
	"math"

	"evenbeat/devices/quantity"
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

	// The kind of noise is told by all points of the first allBlocks blocks of a
	// stage (16384 points give the autocorrelation to 0.008, and neighbouring kinds
	// lie 0.16 apart or more), then by one block in oneIn.
	allBlocks = 32
	oneIn     = 8
)

// Stream reckons overlapping Allan deviations at octave averaging times of a
// series of phases that comes point by point, in memory that grows only with the
// logarithm of its length (about 5 kB an octave).
//
// Up to m = 32 every term counts; above, every m/32-th. Of a long series the kind
// of noise is told by an eighth of the points.
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
func (s *Stream) Add(phase float64) { s.AddAll([]float64{phase}, 0) }

// AddAll takes the next phases, in seconds, each with shift added. See Add.
func (s *Stream) AddAll(phases []float64, shift float64) {
	first := s.stages[0]
	s.points += int64(len(phases))
	for len(phases) > 0 {
		if first.n == len(first.buf) {
			s.turn(0)
		}
		n := min(len(phases), len(first.buf)-first.n)
		room := first.buf[first.n : first.n+n]
		for i, v := range phases[:len(room)] {
			v += shift
			room[i] = v
			if !(math.Abs(v) <= math.MaxFloat64) {
				room[i] = math.NaN()
				s.gaps++
			}
		}
		first.n += n
		phases = phases[n:]
	}
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
		next.n += n
		st.handed += 2*n - 1
		st.odd = true
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
	odd    bool // the next to be offered is one to leave out
	sums   [octaves]float64
	terms  [octaves]int64

	blocks int64 // summed and gone
	lag    lagSums
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
	if st.blocks < allBlocks {
		st.sumLags()
	} else if st.blocks%oneIn == 0 {
		st.sampleLags()
	}
	st.done = st.n
}

// makeRoom keeps the points that later terms reach back to.
func (st *stage) makeRoom() {
	copy(st.buf[:history], st.buf[st.n-history:st.n])
	st.n, st.done, st.handed = history, history, history
	st.blocks++
}

// squares returns the sum of (x[i+2m] − 2x[i+m] + x[i])² and how many terms it
// has; terms with a gap are left out.
func squares(x []float64, m int) (sum float64, terms int64) {
	run := longRun
	for i, n := 0, len(x)-2*m; i < n; {
		if run = min(run, (n-i)&^7); run == 0 {
			break
		}
		if v := squaresOf(x[i:i+run], x[i+m:i+m+run], x[i+2*m:i+2*m+run]); v == v {
			sum += v
			terms += int64(run)
			i += run
			if i&(longRun-1) == 0 {
				run = longRun
			}
			continue
		}
		if run > 8 { // there is a gap in it: in smaller steps to the next whole run
			run = 8
			continue
		}
		v, k := squaresWhole(x[i:i+8+2*m], m)
		sum += v
		terms += k
		if i += 8; i&(longRun-1) == 0 {
			run = longRun
		}
	}
	rest := (len(x) - 2*m) & 7
	v, k := squaresWhole(x[len(x)-2*m-rest:], m)
	return sum + v, terms + k
}

// longRun is how many terms are summed before it is asked whether there was a gap.
const longRun = 32

// squaresOf takes a multiple of eight terms without a gap; with one the sum is
// NaN. Four sums side by side, because one alone waits for its own last addition.
func squaresOf(a, b, c []float64) float64 {
	var s0, s1, s2, s3 float64
	for len(a) >= 8 && len(b) >= 8 && len(c) >= 8 {
		p, q, r := (*[8]float64)(a), (*[8]float64)(b), (*[8]float64)(c)
		d0 := r[0] - 2*q[0] + p[0]
		d1 := r[1] - 2*q[1] + p[1]
		d2 := r[2] - 2*q[2] + p[2]
		d3 := r[3] - 2*q[3] + p[3]
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
		s3 += d3 * d3
		d0 = r[4] - 2*q[4] + p[4]
		d1 = r[5] - 2*q[5] + p[5]
		d2 = r[6] - 2*q[6] + p[6]
		d3 = r[7] - 2*q[7] + p[7]
		s0 += d0 * d0
		s1 += d1 * d1
		s2 += d2 * d2
		s3 += d3 * d3
		a, b, c = a[8:], b[8:], c[8:]
	}
	return s0 + s1 + s2 + s3
}

// squaresWhole takes the terms without a gap.
func squaresWhole(x []float64, m int) (sum float64, terms int64) {
	for i := range len(x) - 2*m {
		if d := x[i+2*m] - 2*x[i+m] + x[i]; d == d {
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

// sampleLags adds those of the new points' differences that lie among points
// without a gap, sixteen at a time.
func (st *stage) sampleLags() {
	const run = 16
	for i := st.done; i+run <= st.n && st.lag.based; i += run { // done is history or more
		if sums, ok := lags(st.buf[i-3:i+run], st.lag.base); ok {
			st.lag.add(sums)
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
		return &quantity.InputError{Name: "interval", Value: fmt.Sprintf("%g s", interval), Why: "give the time between points in seconds, above 0"}
	}
	return nil
}
