package uncertainty

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Scatter is an estimate of how far single readings scatter. The zero value is not known.
type Scatter struct {
	Key string  // of the estimate, see Source.Estimate
	S   float64 // standard deviation of one reading, in its unit
	DoF float64 // degrees of freedom

	sets int // of readings that were held against each other
}

// scatterOf returns the scatter of readings of one thing; unknown for fewer than two.
func scatterOf(readings []float64) Scatter {
	n := float64(len(readings))
	if n < 2 {
		return Scatter{}
	}
	var mean, sum float64
	for _, x := range readings {
		mean += x / n
	}
	for _, x := range readings {
		sum += (x - mean) * (x - mean)
	}
	s := Scatter{S: math.Sqrt(sum / (n - 1)), DoF: n - 1}
	// Rounding of equal readings must not pass for scatter.
	if s.S <= 1e-12*math.Abs(mean) {
		s.S = 0
	}
	return s
}

// Pool returns the scatter of an instrument from sets of repeat readings, each of one
// thing: the square root of their variances' mean, weighted by their degrees of freedom
// (JCGM 100:2008, 4.2.4). Readings and step, of the display, are in one unit. A thing that
// is uneven or out of round scatters by more and tells nothing of the instrument. So the
// sets are taken from the one that scatters least upwards, and a set that those below
// don't explain is left out. That choice is our own. It is unknown without a set of two.
func Pool(key string, step float64, sets [][]float64) Scatter {
	var all []Scatter
	for _, readings := range sets {
		if s := scatterOf(readings); s.DoF > 0 {
			all = append(all, s)
		}
	}
	slices.SortFunc(all, func(a, b Scatter) int { return cmp.Or(cmp.Compare(a.S, b.S), cmp.Compare(a.DoF, b.DoF)) })
	out := Scatter{Key: key, sets: len(all)}
	for _, s := range all {
		if out.DoF > 0 && !out.explains(s, step) {
			continue
		}
		out.S = math.Sqrt((out.S*out.S*out.DoF + s.S*s.S*s.DoF) / (out.DoF + s.DoF))
		out.DoF += s.DoF
	}
	return out
}

// OfInstrument returns the part of the scatter that is taken for the instrument's own, which
// its zero reading has too. Sets of several things show it. The readings of one thing
// don't: how much of their variance is the thing's unevenness can't be told. Anything from
// none to all of it may be, so half is taken, the mean of that.
func (s Scatter) OfInstrument() Scatter {
	if s.sets == 1 {
		s.S /= math.Sqrt2
	}
	return s
}

// uneven is the significance at which a set of readings is taken to scatter by more than
// its instrument: that of an outlying variance by Cochran's test in ISO 5725-2. The test
// shares it among the sets (both from memory).
const uneven = 0.01

// explains reports whether o, of readings of one thing, can come of the instrument alone,
// by the F test of their variances. One that always showed the same may still have been
// rounding: it explains what rounding to its step adds.
func (s Scatter) explains(o Scatter, step float64) bool {
	if s.DoF == 0 {
		return false
	}
	floor := max(s.S*s.S, step*step/12)
	return o.S == 0 || distuv.F{D1: o.DoF, D2: s.DoF}.Survival(o.S*o.S/floor) >= uneven/float64(s.sets)
}
