package periodic

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/analysis/beat/phase"
	"evenbeat/devices/quantity"
)

const (
	// LeastTurns of a wheel must be heard before its error is told: a wandering
	// rate makes one or two waves of any length.
	LeastTurns = 3
	// accuse is the chance that a wheel without error is called faulty, for each
	// wheel looked at.
	accuse = 1e-5
	// fewestWindows make a scatter.
	fewestWindows = 8
)

// Arbor is one arbor of the train, as far as its beats need it.
type Arbor struct {
	Index        int // from the barrel (1)
	Name         string
	BeatsPerTurn float64
}

// Wheel is the periodic error of one arbor of the train.
type Wheel struct {
	Arbor       int            `json:"arbor"`       // from the barrel (1)
	Name        string         `json:"name"`        // of the arbor
	PeriodS     float64        `json:"period_s"`    // in the clock's own time
	Amplitude   quantity.Value `json:"amplitude_s"` // of the beats' time error
	Significant bool           `json:"significant"` // more than chance explains
}

// FindWheels returns the periodic error of each arbor that turned often enough. A
// quick arbor's comes from its windows (see Harmonics), one with few turns from the
// means of blocks; significance is by the F distribution of the amplitude's power
// over that of its scatter between windows, or of its neighbours in frequency. slope is
// that of the line through the blocks and half the tick–tock offset, seconds; nominal
// is the clock's own interval, seconds.
func FindWheels(arbors []Arbor, h *Harmonics, b *phase.Blocks, slope, half, nominal float64) []Wheel {
	var out []Wheel
	for i, arbor := range arbors {
		a, ok := h.waves[i].amplitude()
		if !ok {
			a, ok = slowAmplitude(b, arbor.BeatsPerTurn, arbors, slope, half)
		}
		if ok {
			out = append(out, Wheel{
				Arbor: arbor.Index, Name: arbor.Name, PeriodS: arbor.BeatsPerTurn * nominal,
				Amplitude: quantity.Value{V: a.v, U: a.u}, Significant: a.chance < accuse,
			})
		}
	}
	return out
}

// amplitude is the amplitude of a periodic error in seconds, its standard uncertainty
// and the chance of one so great without any error.
type amplitude struct{ v, u, chance float64 }

// amplitude returns the greatest of the harmonics' amplitudes.
func (w *wave) amplitude() (a amplitude, ok bool) {
	n := w.count
	if n < fewestWindows {
		return a, false
	}
	a.chance = 1
	for h := range harmonics {
		mean := w.sum[h] / complex(n, 0)
		m2 := real(mean)*real(mean) + imag(mean)*imag(mean)
		scatter := math.Max(0, w.power[h]-n*m2) / (n - 1) // of a window, both parts
		// The first harmonic carries the arbor's eccentricity; the second, an oval
		// wheel, is told in its place only when it is surer and greater.
		p := chance(m2*n, scatter, 2*(n-1))
		if h == 0 || (p < a.chance/10 && cmplx.Abs(mean) > a.v) {
			a = amplitude{v: cmplx.Abs(mean), u: math.Sqrt(scatter / (2 * n)), chance: p}
		}
	}
	k := float64(w.length) / w.period
	if sinc := math.Sin(math.Pi*k) / (float64(w.length) * math.Sin(math.Pi/w.period)); sinc > 0.5 {
		a.v, a.u = a.v/sinc, a.u/sinc
	}
	return a, true
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

// slowAmplitude is the amplitude for an arbor of few turns, from the block means of the
// longest segment.
func slowAmplitude(b *phase.Blocks, period float64, arbors []Arbor, slope, half float64) (a amplitude, ok bool) {
	m := b.Means(b.Longest(), half)
	size := float64(b.Size)
	if len(m.K) < 32 || 4*size > period {
		return a, false
	}
	span := m.Span()
	turns := span / period
	if turns < LeastTurns {
		return a, false
	}
	for i := range m.X {
		m.X[i] -= slope * m.K[i]
	}
	m = raised(m)
	c, good := sinusoid(m, 1/period)
	if !good {
		return a, false
	}
	var beside neighbours
	for d := 2.0; d <= 12; d++ {
		for _, sign := range []float64{-1, 1} {
			f := (turns + sign*d) / span
			if f*span < 2 || f*size > 0.4 || nearArbor(f, 2/span, arbors) {
				continue
			}
			if v, good := sinusoid(m, f); good {
				beside = append(beside, neighbour{math.Log(f * period), real(v)*real(v) + imag(v)*imag(v)})
			}
		}
	}
	n := float64(len(beside))
	if n < 6 {
		return a, false
	}
	noise := beside.noise()
	y := math.Pi * size / period
	sinc := math.Sin(y) / y
	// The cosine joins neighbouring frequencies: of n, two thirds are worth one.
	p := chance(real(c)*real(c)+imag(c)*imag(c), noise, 4*n/3)
	return amplitude{v: cmplx.Abs(c) / sinc, u: math.Sqrt(noise/2) / sinc, chance: p}, true
}

// neighbour is the power at a frequency beside a wheel's: the logarithm of their ratio,
// and the power in square seconds.
type neighbour struct{ logRatio, power float64 }

type neighbours []neighbour

// noise returns the power of noise that is to be expected at the wheel's own frequency.
// A rate that wanders has the more power the slower the wave, up to the fourth power of
// the period, and of a wheel with few turns all neighbours are quicker. So the steepest
// slope that the neighbours bear carries them to the wheel: by Whittle's likelihood for
// powers of chi-squared with two degrees of freedom, 2 below its best (two standard
// deviations; neighbours are correlated, and three count as two). With neighbours on
// both sides it hardly matters.
func (b neighbours) noise() float64 {
	const steepest, step = 4.0, 0.25
	n := float64(len(b))
	at := func(slope float64) (noise, likelihood float64) {
		var sum, logs float64
		for _, x := range b {
			sum += x.power * math.Exp(slope*x.logRatio)
			logs += x.logRatio
		}
		noise = sum / n
		return noise, 2.0 / 3 * (slope*logs - n*math.Log(noise))
	}
	best := math.Inf(-1)
	for slope := 0.0; slope <= steepest; slope += step {
		_, l := at(slope)
		best = max(best, l)
	}
	noise, _ := at(0)
	for slope := step; slope <= steepest; slope += step {
		if v, l := at(slope); l >= best-2 {
			noise = max(noise, v)
		}
	}
	return noise
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
