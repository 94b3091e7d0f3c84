package beat

import "math"

const (
	// mostStrays are kept of each place: enough for a median.
	mostStrays = 64
	// straySegments with strays are remembered, the first ones.
	straySegments = 32
	// strayReach is how far from where a beat is due an event may lie, as a share of
	// the interval, to be that beat all the same: beyond it lie echoes and knocks.
	strayReach = 0.1
	// straying is the share of turns from which on events off their place are no
	// chance: a knock has the same odds at every place.
	straying = 0.25
)

// strays keeps the events that came too far off to be taken for the beat that was
// due, by their place in the escape wheel's turn: a bent tooth throws its beats
// off by the same time in each turn, and knocks come anywhere.
type strays struct {
	places int
	segs   map[int]*strayed
}

type strayed struct {
	n    []float64
	late [][]float32 // of each place, by the loop that expects the beats, seconds
}

func newStrays(places int) *strays {
	if places == 0 {
		return nil
	}
	return &strays{places: places, segs: map[int]*strayed{}}
}

// add takes an event of a segment that came late seconds after beat k was due.
func (s *strays) add(seg int, k int64, late float64) {
	if s == nil {
		return
	}
	t := s.segs[seg]
	if t == nil {
		if len(s.segs) >= straySegments {
			return
		}
		t = &strayed{n: make([]float64, s.places), late: make([][]float32, s.places)}
		s.segs[seg] = t
	}
	size := int64(s.places)
	i := int(((k % size) + size) % size)
	t.n[i]++
	if len(t.late[i]) < mostStrays {
		t.late[i] = append(t.late[i], float32(late))
	}
}

// join gives each place whose events strayed time after time, in a segment of so
// many turns, what they say of it.
func (s *strays) join(ps []place, seg int, turns float64) {
	if s == nil || s.segs[seg] == nil {
		return
	}
	t := s.segs[seg]
	due := expected(ps)
	for i := range ps {
		if t.n[i] < straying*turns || len(t.late[i]) < leastInPlace {
			continue
		}
		mid, spread, share := cluster(t.late[i])
		n := math.Min(share*t.n[i], turns)
		if n < straying*turns || n < leastInPlace {
			continue
		}
		p := &ps[i]
		v, u := due[i]+mid, math.Max(spread/math.Sqrt(n), p.u)
		if p.n >= leastInPlace {
			// Some came near enough and some didn't: the place lies at the gate's edge.
			v = (v*n + p.v*p.n) / (n + p.n)
			n += p.n
		}
		*p = place{v: v, u: u, n: n, torn: n}
	}
}

// cluster returns the median of what lies together, its standard deviation, and
// what share of all does.
func cluster(late []float32) (mid, spread, share float64) {
	v := make([]float64, len(late))
	for i, x := range late {
		v[i] = float64(x)
	}
	mid = median(v)
	dev := make([]float64, len(v))
	for i := range v {
		dev[i] = math.Abs(v[i] - mid)
	}
	spread = 1.4826 * median(dev)
	near := 0.0
	for _, d := range dev {
		if d <= 5*spread {
			near++
		}
	}
	return mid, spread, near / float64(len(v))
}

// expected returns when the loop that follows the beats expects one at each place,
// in the same terms as the places' means: what is late time after time it comes to
// expect in part, and strays were measured from there.
func expected(ps []place) []float64 {
	out := make([]float64, len(ps))
	due, step := 0.0, 0.0
	for range 4 { // turns, until it repeats
		for i, p := range ps {
			due += step
			out[i] = due
			if p.n < leastInPlace {
				continue
			}
			r := p.v - due
			step += intervalGain * r
			due += phaseGain * r
		}
	}
	return out
}
