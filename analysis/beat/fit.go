package beat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

// evenness is by how much beats of even number come late against those of odd, in
// seconds, the two apart from their mean by ± half of that.
//
// By second differences: a joint fit with the line lets a wandering rate leak in
// through every missed beat. The uncertainty comes from the scatter of groups of
// neighbouring beats, so that it holds whatever the noise at the beat's own
// frequency; with few beats from the scatter of one beat.
func (b *blocks) evenness(white float64) (half quantity.Value, ok bool) {
	group := 1 + 15/b.size // blocks, at least 16 beats
	var sum, n float64
	type part struct{ d, n float64 }
	var parts []part
	for _, s := range b.segments {
		for i := 0; i < len(s.blocks); i += int(group) {
			var p part
			for _, v := range s.blocks[i:min(i+int(group), len(s.blocks))] {
				p.d += v.d
				p.n += v.nd
			}
			if p.n > 0 {
				parts = append(parts, p)
				sum, n = sum+p.d, n+p.n
			}
		}
	}
	if n < 2 {
		return quantity.Value{}, false
	}
	mean := sum / n
	half = quantity.Value{V: mean / 2, U: white / math.Sqrt(n)}
	if m := len(parts); m >= 8 {
		ss := 0.0
		for _, p := range parts {
			e := p.d - mean*p.n
			ss += e * e
		}
		half.U = math.Sqrt(ss*float64(m)/float64(m-1)) / n / 2
		half.K = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(m - 1)}.Quantile(0.975)
	}
	return half, true
}

// line is the straight line through the phases, common to all segments.
type line struct {
	slope quantity.Value // seconds a beat, against the even clock
	noise mixture
	kk    float64 // Σ(k−k̄)² of all segments
	beats float64
	inter []float64 // of each segment: its phase at beat 0
}

// fit draws the line through the block means; half is the evenness, which is
// taken out of each block by how many of its beats were even. step is the least
// that stamps can tell, seconds. Waves that repeat with an arbor, or stand out by
// themselves, are taken out of the longest segment first.
func (b *blocks) fit(half, step float64, arbors []Arbor) (line, bool) {
	l := line{inter: make([]float64, len(b.segments))}
	for i := range b.segments {
		l.beats += b.segments[i].heard()
	}
	var cs []contrast
	var kx float64
	means := make([][2]float64, len(b.segments))
	longest, waves, inflation := b.longest(), 0, 1.0
	many := b.size > 1 && len(b.segments) > 8
	for i := range b.segments {
		k, x, w := b.means(i, half)
		all := degreesFor(len(k))
		taken := all
		if many {
			taken = min(all, mostAmongMany)
		}
		var ps polynomials
		if i == longest {
			ps = newPolynomials(k, w, all)
			x, waves, inflation = repeats(k, x, w, ps, arbors)
		} else {
			ps = newPolynomials(k, w, taken)
		}
		var n, mk, mx float64
		for j := range k {
			n += w[j]
			mk += w[j] * k[j]
			mx += w[j] * x[j]
		}
		if n > 0 {
			means[i] = [2]float64{mk / n, mx / n}
		}
		part, skx := ps.contrasts(x, taken, n/l.beats)
		cs = append(cs, part...)
		l.kk += ps.kk
		kx += skx
	}
	m, ok := judge(cs, 2*waves)
	if !ok || !(l.kk > 0) {
		return line{}, false
	}
	l.noise = m
	root := math.Sqrt(l.kk)
	l.slope.V = kx / l.kk
	u, h := inflation*m.sd()/root, inflation*m.half95()/root
	// Stamps are cut to whole steps. Where beats scatter by more than a step the
	// cut is part of the scatter; else it may bend the line by as much as a step
	// over the length of the run.
	if m.white < step && l.beats > 1 {
		q := step / math.Sqrt(12) / l.beats
		u, h = math.Hypot(u, q), math.Hypot(h, quantity.Normal95*q)
	}
	l.slope.U = u
	if u > 0 {
		l.slope.K = h / u
	}
	for i, c := range means {
		l.inter[i] = c[1] - l.slope.V*c[0]
	}
	return l, true
}

// means returns the block means of a segment: beat number, phase, weight.
func (b *blocks) means(segment int, half float64) (k, x, w []float64) {
	s := &b.segments[segment]
	for i, v := range s.blocks {
		if v.n > 0 {
			k = append(k, float64(s.first+int64(i)*b.size)+v.k/v.n)
			x = append(x, (v.x-half*v.s)/v.n)
			w = append(w, v.n)
		}
	}
	return k, x, w
}

// mostAmongMany contrasts are taken of each of many segments.
const mostAmongMany = 12

// degreesFor returns how many contrasts n means are good for: of many, those that
// are slow against the means' own length.
func degreesFor(n int) int {
	if n > 40 {
		return min(mostDegree, n/2)
	}
	return max(1, n-1)
}

// longest returns the place of the segment with the most blocks.
func (b *blocks) longest() int {
	longest := 0
	for i := range b.segments {
		if len(b.segments[i].blocks) > len(b.segments[longest].blocks) {
			longest = i
		}
	}
	return longest
}
