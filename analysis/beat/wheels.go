package beat

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

const (
	// leastTurns of a wheel must be heard before its error is told: a wandering
	// rate makes one or two waves of any length.
	leastTurns = 3
	// accuse is the chance that a wheel without error is called faulty, for each
	// wheel looked at.
	accuse = 1e-5
)

// wheels returns the periodic error of each arbor that turned often enough. A
// quick arbor's comes from its windows (see wave), one with few turns from the
// means of blocks; significance is by the F distribution of the amplitude's power
// over that of its scatter between windows, or of its neighbours in frequency.
func (a *Analyser) wheels(l line, half, nominal float64) []Wheel {
	var out []Wheel
	for i, arbor := range a.o.Arbors {
		w := Wheel{Arbor: arbor.Index, Name: arbor.Name, PeriodS: arbor.BeatsPerTurn * nominal}
		amp, u, p, ok := a.sums.waves[i].amplitude()
		if !ok {
			amp, u, p, ok = a.sums.blocks.amplitude(arbor.BeatsPerTurn, a.o.Arbors, l.slope.V, half)
		}
		if !ok {
			continue
		}
		w.Amplitude = quantity.Value{V: amp, U: u}
		w.Significant = p < accuse
		out = append(out, w)
	}
	return out
}

// fewestWindows make a scatter.
const fewestWindows = 8

// amplitude returns the greatest of the harmonics' amplitudes in seconds, its
// standard uncertainty and the chance of one so great without any error.
func (w *wave) amplitude() (amp, u, p float64, ok bool) {
	n := w.count
	if n < fewestWindows {
		return 0, 0, 1, false
	}
	p = 1
	for h := range harmonics {
		mean := w.sum[h] / complex(n, 0)
		m2 := real(mean)*real(mean) + imag(mean)*imag(mean)
		scatter := math.Max(0, w.power[h]-n*m2) / (n - 1) // of a window, both parts
		if h == 0 {
			amp, u = cmplx.Abs(mean), math.Sqrt(scatter/(2*n))
		}
		// The first harmonic carries the arbor's eccentricity; the second, an oval
		// wheel, is told in its place only when it is surer and greater.
		q := chance(m2*n, scatter, 2*(n-1))
		if h == 0 || (q < p/10 && cmplx.Abs(mean) > amp) {
			amp, u, p = cmplx.Abs(mean), math.Sqrt(scatter/(2*n)), q
		}
	}
	k := float64(w.length) / w.period
	if sinc := math.Sin(math.Pi*k) / (float64(w.length) * math.Sin(math.Pi/w.period)); sinc > 0.5 {
		amp, u = amp/sinc, u/sinc
	}
	return amp, u, p, true
}

// chance returns the chance of an F as great as signal/scatter with 2 and nu
// degrees of freedom.
func chance(signal, scatter, nu float64) float64 {
	if !(scatter > 0) {
		if signal > 0 {
			return 0
		}
		return 1
	}
	return distuv.F{D1: 2, D2: nu}.Survival(signal / scatter)
}

// amplitude is the same for an arbor of few turns, from the block means of the
// longest segment.
func (b *blocks) amplitude(period float64, arbors []Arbor, slope, half float64) (amp, u, p float64, ok bool) {
	k, x, w := b.means(b.longest(), half)
	if len(k) < 32 || 4*float64(b.size) > period {
		return 0, 0, 1, false
	}
	span := k[len(k)-1] - k[0]
	turns := span / period
	if turns < leastTurns {
		return 0, 0, 1, false
	}
	for i := range x {
		x[i] -= slope * k[i]
	}
	w = raised(k, w, span)
	at := func(f float64) (complex128, bool) { return raisedFit(k, x, w, span, f) }
	c, good := at(1 / period)
	if !good {
		return 0, 0, 1, false
	}
	var power, n float64
	for d := 2.0; d <= 12; d++ {
		for _, sign := range []float64{-1, 1} {
			f := (turns + sign*d) / span
			if f*span < 2 || f*float64(b.size) > 0.4 || nearArbor(f, 2/span, arbors) {
				continue
			}
			if v, good := at(f); good {
				power += real(v)*real(v) + imag(v)*imag(v)
				n++
			}
		}
	}
	if n < 6 {
		return 0, 0, 1, false
	}
	noise := power / n
	// The cosine joins neighbouring frequencies: of n, two thirds are worth one.
	p = chance(real(c)*real(c)+imag(c)*imag(c), noise, 4*n/3)
	y := math.Pi * float64(b.size) / period
	sinc := math.Sin(y) / y
	return cmplx.Abs(c) / sinc, math.Sqrt(noise/2) / sinc, p, true
}

func nearArbor(f, within float64, arbors []Arbor) bool {
	for _, a := range arbors {
		for h := 1.0; h <= harmonics; h++ {
			if math.Abs(f-h/a.BeatsPerTurn) < within {
				return true
			}
		}
	}
	return false
}

// raised returns the weights under a raised cosine.
func raised(k, w []float64, span float64) []float64 {
	out := make([]float64, len(w))
	for i, v := range k {
		out[i] = w[i] * raisedCosine((v-k[0])/span)
	}
	return out
}

// raisedFit returns the complex amplitude at frequency f (turns a beat) of means with
// raised weights w, line and mean taken out.
func raisedFit(k, x, w []float64, span, f float64) (complex128, bool) {
	// Normal equations of 1, u, cos, sin, solved by elimination.
	var m [4][5]float64
	for i, v := range k {
		u := (v - k[0]) / span
		weight := w[i]
		s, c := sincosOf(f * (v - k[0]))
		row := [5]float64{1, u - 0.5, c, s, x[i]}
		for a := range 4 {
			for b := range 5 {
				m[a][b] += weight * row[a] * row[b]
			}
		}
	}
	for a := range 4 {
		if !(m[a][a] > 0) {
			return 0, false
		}
		for b := a + 1; b < 4; b++ {
			q := m[b][a] / m[a][a]
			for c := a; c < 5; c++ {
				m[b][c] -= q * m[a][c]
			}
		}
	}
	s := m[3][4] / m[3][3]
	c := (m[2][4] - m[2][3]*s) / m[2][2]
	if v := complex(c, s); !cmplx.IsNaN(v) && !cmplx.IsInf(v) {
		return v, true
	}
	return 0, false
}
