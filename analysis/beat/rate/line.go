// Package rate finds from the block means of a clock's time errors how fast the clock
// goes, how sure that is under power-law noise, and by how much tick and tock differ.
package rate

import (
	"math"

	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/beat/phase"
	"evenbeat/devices/quantity"
)

// Line is the straight line through the time errors, common to all segments.
type Line struct {
	Slope      quantity.Value // seconds a beat, against the even clock
	Intercepts []float64      // of each segment: its time error at beat 0
	// White is the standard deviation of a beat, independent from beat to beat, seconds.
	White float64
	// Shares are those of the kinds of noise in the variance of the slope.
	Shares [Kinds]float64
	// Waves are those taken out, in turns a beat, and Ends what they add to the mean from
	// first beat to last, seconds a beat.
	Waves []float64
	Ends  quantity.Value
	// Bend is by how much the time errors bend about the line, as a parabola and a cubic
	// do, root mean square in seconds; 0 for several segments.
	Bend float64
}

// FitLine fits the line to the block means. half is half the tick–tock offset, which is
// taken out of each block by how many of its beats were even; step is the resolution of
// the stamps; both in seconds. Waves that repeat with an arbor, or stand out by
// themselves, are taken out of the longest segment first. It reports false for too few
// means.
func FitLine(b *phase.Blocks, half, step float64, arbors []periodic.Arbor) (Line, bool) {
	p := pool(b, half, arbors)
	m, ok := judge(p.contrasts, 2*len(p.waves.Freqs), p.beats)
	if !ok || !(p.kk > 0) {
		return Line{}, false
	}
	l := Line{White: m.white, Shares: m.shares, Intercepts: make([]float64, b.Segments())}
	l.Waves, l.Ends = p.waves.Freqs, p.ends(m.white)
	if cs := p.contrasts; len(p.centres) == 1 {
		l.Bend = math.Hypot(cs[0].c, cs[1].c) / math.Sqrt(p.beats)
	}
	root := math.Sqrt(p.kk)
	l.Slope.V = p.kx/p.kk + m.mean()/root
	u, h := p.waves.Inflation*m.sd()/root, p.waves.Inflation*m.half95()/root
	// Stamps are cut to whole steps. Where beats scatter by more than a step the
	// cut is part of the scatter; else it may bend the line by as much as a step
	// over the length of the run.
	if m.white < step && p.beats > 1 {
		q := step / math.Sqrt(12) / p.beats
		u, h = math.Hypot(u, q), math.Hypot(h, quantity.Normal95*q)
	}
	l.Slope.U = u
	if u > 0 {
		l.Slope.K = h / u
	}
	for i, c := range p.centres {
		l.Intercepts[i] = c[1] - l.Slope.V*c[0]
	}
	return l, true
}

// pooled is what all segments say together.
type pooled struct {
	beats     float64
	contrasts []contrast
	kk, kx    float64        // Σw(k−k̄)² and Σw(k−k̄)x of all segments
	centres   [][2]float64   // of each segment: mean beat number and mean time error
	waves     periodic.Waves // taken out of the longest segment
	span      float64        // of that from first beat to last, beats
}

// ends returns what the waves add to the mean from first beat to last. Each amplitude has
// the variance 2σ²/n for n beats of scatter σ, and a wave's rise at most four times that
// of its sine and cosine.
func (p pooled) ends(white float64) quantity.Value {
	if len(p.waves.Freqs) == 0 {
		return quantity.Value{}
	}
	return quantity.Value{V: p.waves.Rise / p.span, U: white * math.Sqrt(8*float64(len(p.waves.Freqs))/p.beats) / p.span}
}

func pool(b *phase.Blocks, half float64, arbors []periodic.Arbor) pooled {
	p := pooled{centres: make([][2]float64, b.Segments()), waves: periodic.Waves{Inflation: 1}}
	for i := range p.centres {
		p.beats += b.Heard(i)
	}
	longest := b.Longest()
	many := b.Size > 1 && len(p.centres) > 8
	for i := range p.centres {
		m := b.Means(i, half)
		all := degreesFor(len(m.K))
		taken := all
		if many {
			taken = min(all, mostAmongMany)
		}
		degrees := taken
		if i == longest {
			degrees = all
		}
		ps := newPolynomials(m, degrees)
		if i == longest {
			m.X, p.waves = periodic.TakeOut(m, arbors, ps.evidence)
			if n := len(m.K); n > 0 {
				p.span = m.Span() + (m.W[0]+m.W[n-1])/2 - 1
			}
		}
		var n, mk, mx float64
		for j, w := range m.W {
			n += w
			mk += w * m.K[j]
			mx += w * m.X[j]
		}
		if n > 0 {
			p.centres[i] = [2]float64{mk / n, mx / n}
		}
		part, kx := ps.contrasts(m.X, taken, n/p.beats)
		p.contrasts = append(p.contrasts, part...)
		p.kk += ps.kk
		p.kx += kx
	}
	return p
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

// evidence is the log likelihood of the contrasts of time errors over all slow noises,
// less half the log of their number for each of the waves' two coefficients.
func (ps polynomials) evidence(x []float64, waves int) (float64, bool) {
	cs, _ := ps.contrasts(x, degreesFor(len(x)), 1)
	m, ok := judge(cs, 2*waves, ps.beats)
	if !ok {
		return 0, false
	}
	return m.log - float64(waves)*math.Log(float64(len(cs))), true
}

const daySeconds = 86400

// PerDay returns the rate in s/day of a clock whose beats are interval seconds apart,
// and that would keep time with nominal: plus gains. u is the standard uncertainty of the
// interval by the count, and truth the true seconds in one of the count.
func PerDay(nominal, interval, u, truth float64) quantity.Value {
	return quantity.Value{
		V: daySeconds * (nominal/interval - 1),
		U: daySeconds * nominal / (interval * interval) * u * truth,
	}
}
