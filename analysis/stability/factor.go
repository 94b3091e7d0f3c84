package stability

import "math/bits"

// factor holds the sums at one averaging factor m.
type factor struct {
	m, stride int64
	asked     bool // false if it only serves to identify the noise

	adev, oadev, mdev, hdev, ohdev squared
	lag                            lagSums

	place int64 // of the next m-th point in the segment
	last  chain // the last m-th point

	// A term that isn't thinned finds its points in the block. Thinned term j needs four
	// points, j·stride + k·m for k = 0 to 3, and next[k] is the term whose point k comes
	// next. Terms that wait for a point are kept in a ring.
	next [4]int64
	open []term

	heard int64 // points without gaps, of segments longer than 2m
	spans int64 // such segments
}

// term is an overlapping term of which some points have come: the phase and differences
// at the last of them, and the same of the running sum of phases, whose differences over
// m are those of the inner sums of MDEV.
type term struct {
	x, y, z   float64
	sum, rest float64 // of the phases before the last point
	w, v      float64 // sum of the last m phases, and its difference
	gaps      int64   // before the first point
}

// squared sums the squares of terms, and the terms with the sign of their first point.
type squared struct {
	n      int64
	dd, sd float64
}

func (s *squared) add(d, sign float64) {
	if d == d {
		s.n++
		s.dd += d * d
		s.sd += sign * d
	}
}

// over returns √(Σ(d − apart·sign)²/(k·n)).
func (s *squared) over(k, apart float64) float64 {
	n := float64(s.n)
	return root(max(0, s.dd-2*apart*s.sd+apart*apart*n), k*n)
}

func newFactor(m int64, asked bool) *factor {
	f := &factor{m: m, stride: max(1, m/thinAbove), asked: asked}
	if asked && f.stride > 1 {
		// A whole block may begin terms before the first of them is complete.
		most := (3*m+blockPoints)/f.stride + 2
		f.open = make([]term, 1<<bits.Len64(uint64(most)))
	}
	f.begin()
	return f
}

func (f *factor) begin() {
	f.place, f.next, f.last = 0, [4]int64{}, newChain()
}

// end ends a segment.
func (f *factor) end(points, gaps int64) {
	if points > 2*f.m {
		f.heard += points - gaps
		f.spans++
	}
	f.begin()
}

// sign is +1 for a point of even number.
func sign(number int64) float64 { return float64(1 - 2*(number&1)) }

func (f *factor) take(b *block) {
	end := b.at + int64(b.n)
	for ; f.place < end; f.place += f.m {
		f.point(b.x[before+f.place-b.at], b.first+f.place)
	}
	if !f.asked {
		return
	}
	if f.stride == 1 {
		f.near(b)
		return
	}
	for k := range int64(len(f.next)) {
		p := f.next[k]*f.stride + k*f.m - b.at
		if p < int64(b.n) {
			f.next[k] = f.part(k, b, before+p)
		}
	}
}

// point takes the next of every m-th point.
func (f *factor) point(x float64, number int64) {
	y, z, w := f.last.next(x)
	f.lag.take(y, z, w)
	f.adev.add(z, sign(number-2*f.m))
	f.hdev.add(w, sign(number-3*f.m))
}

// near takes the terms that end in b, none of them thinned.
func (f *factor) near(b *block) {
	m, end := int(f.m), before+b.n
	even := sign(b.first + b.at) // of the point that ends a term, and begins one of even order
	turn := sign(f.m)
	oadev, ohdev, mdev := f.oadev, f.ohdev, f.mdev
	for i := before; i < end; i++ {
		k, l, o := i-m, i-2*m, i-3*m
		z := b.x[i] - 2*b.x[k] + b.x[l]
		oadev.add(z, even)
		ohdev.add(z-(b.x[k]-2*b.x[l]+b.x[o]), even*turn)
		if b.gaps[i] == b.gaps[o] {
			w1 := (b.sum[l] - b.sum[o]) + (b.rest[l] - b.rest[o])
			w2 := (b.sum[k] - b.sum[l]) + (b.rest[k] - b.rest[l])
			w3 := (b.sum[i] - b.sum[k]) + (b.rest[i] - b.rest[k])
			mdev.add(w3-2*w2+w1, even*turn)
		}
		even = -even
	}
	f.oadev, f.ohdev, f.mdev = oadev, ohdev, mdev
}

// part takes point k of terms, the first of them at place p of b, and returns the
// term that needs the next.
func (f *factor) part(k int64, b *block, p int64) int64 {
	j, mask := f.next[k], len(f.open)-1
	for end := int64(before + b.n); p < end; p += f.stride {
		t := &f.open[int(j)&mask]
		x, sum, rest := b.x[p], b.sum[p], b.rest[p]
		if k == 0 {
			*t = term{x: x, sum: sum, rest: rest, gaps: b.gaps[p]}
			j++
			continue
		}
		y, w := x-t.x, (sum-t.sum)+(rest-t.rest)
		switch z, v := y-t.y, w-t.w; k {
		case 2:
			f.oadev.add(z, sign(b.first+j*f.stride))
			t.z, t.v = z, v
		case 3:
			f.ohdev.add(z-t.z, sign(b.first+j*f.stride))
			if t.gaps == b.gaps[p] {
				f.mdev.add(v-t.v, sign(b.first+j*f.stride))
			}
		}
		t.x, t.y, t.sum, t.rest, t.w = x, y, sum, rest, w
		j++
	}
	return j
}

// row returns the figures: see Family.Result.
func (f *factor) row(interval, scale, alternating float64) Row {
	m := float64(f.m)
	tau := m * interval
	by := scale / tau
	second, third := 4*alternating, -8*alternating
	if f.m&1 == 0 {
		second, third = 0, 0
	}
	r := Row{TauS: tau, N: f.oadev.n}
	r.ADev = r.figure("adev", f.adev.over(2, second)*by, f.adev.n)
	r.OADev = r.figure("oadev", f.oadev.over(2, second)*by, f.oadev.n)
	r.setModified(f.mdev.over(2, second)*by/m, f.mdev.n)
	r.HDev = r.figure("hdev", f.hdev.over(6, third)*by, f.hdev.n)
	r.OHDev = r.figure("ohdev", f.ohdev.over(6, third)*by, f.ohdev.n)
	return r
}

// noise names the noise by the figures of its row and the kind at m = 2: see named.
func (f *factor) noise(short Noise, r Row) (Noise, bool) {
	if r.MDev == nil || r.OADev == nil {
		return named(f.lag, f.m, short, 0, 0, 0)
	}
	return named(f.lag, f.m, short, *r.MDev**r.MDev, *r.OADev**r.OADev, float64(f.mdev.n*f.stride)/float64(f.m))
}
