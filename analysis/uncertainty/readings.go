package uncertainty

import (
	"fmt"
	"math"
)

// Instrument is what is known of an instrument's errors.
type Instrument struct {
	// Key names the error that all readings of this instrument share, for this
	// kind of measurement (outside, inside, depth).
	Key   string
	Limit float64 // ± limit of error, metres; 0 if not known
	Step  float64 // resolution, metres; 0 if not known
	// Repeat is how far its readings scatter, as its other readings show; zero if not
	// known.
	Repeat Scatter
	// Zero is what the instrument shows with its jaws closed. It is subtracted from each
	// reading. Its own errors are in Zero.Sources.
	Zero Quantity
}

// FromReadings returns the mean of n repeated readings, corrected for the zero
// error, with its errors:
//   - the scatter of the mean, s/√n (JCGM 100:2008, 4.2.3). The standard deviation s of
//     one reading and its degrees of freedom are the instrument's, pooled over all that
//     it measured (4.2.4), unless these readings scatter by more than that explains, or
//     it isn't known: then they are their own, with n−1 degrees of freedom;
//   - the resolution: rounding adds step²/12 to the variance of a reading (F.2.2.1). What
//     of it doesn't show in s² is common to all n, and stays in their mean;
//   - the instrument's limit ±a as a/√3 (4.3.7), shared by all its readings;
//   - the zero reading's own errors.
//
// Readings are in metres (or any one unit throughout). The error is for no readings, or
// one that is not finite.
func FromReadings(name string, readings []float64, in Instrument) (Quantity, error) {
	n := float64(len(readings))
	if n == 0 {
		return Quantity{}, fmt.Errorf("%s: no reading: take at least one", name)
	}
	var mean float64
	for _, x := range readings {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return Quantity{}, fmt.Errorf("%s: a reading is %v: it must be a finite number", name, x)
		}
		mean += x / n
	}
	q := Quantity{Name: name, V: mean - in.Zero.V}
	s := scatterOf(readings)
	if s.DoF == 0 || in.Repeat.explains(s, in.Step) {
		s = in.Repeat
	}
	if s.S > 0 {
		q.Sources = append(q.Sources, Source{U: s.S / math.Sqrt(n), Shape: Student, DoF: s.DoF, Estimate: s.Key, Cause: CauseScatter})
	}
	if common := in.Step*in.Step/12 - s.S*s.S; common > 0 {
		q.Sources = append(q.Sources, Source{U: math.Sqrt(common), Shape: Rectangular, Cause: CauseResolution})
	}
	if in.Limit > 0 {
		q.Sources = append(q.Sources, Source{Key: in.Key, U: in.Limit / math.Sqrt(3), Shape: Rectangular, Cause: CauseInstrument})
	}
	for _, z := range in.Zero.Sources {
		z.U, z.Cause = -z.U, CauseZero
		q.Sources = append(q.Sources, z)
	}
	return q, q.check()
}

// Span returns the difference between the greatest and the least reading: the
// out-of-roundness of a bore, the taper of a strip. It is 0 for fewer than two.
func Span(readings []float64) float64 {
	if len(readings) < 2 {
		return 0
	}
	low, high := readings[0], readings[0]
	for _, x := range readings {
		low, high = min(low, x), max(high, x)
	}
	return high - low
}

// Touches tells whether the 95 % intervals of two quantities have a value in common.
// Those of two good measurements of one thing miss each other about once in 180 times
// where they are equally wide and normal.
func (q Quantity) Touches(o Quantity) bool {
	a, b := q.Value(), o.Value()
	return a.Low95() <= b.High95() && b.Low95() <= a.High95()
}

// Combine returns the mean of several measurements of one quantity, each weighted by one
// over its variance. An error that several share stays shared: it doesn't average out.
func Combine(name string, of []Quantity) Quantity {
	if len(of) == 1 {
		return of[0]
	}
	var sum float64
	weights := make([]float64, len(of))
	for i, q := range of {
		u := q.U()
		if u == 0 { // a count, or what is exact: it needs no other
			return q
		}
		weights[i] = 1 / (u * u)
		sum += weights[i]
	}
	out := Quantity{Name: name}
	for i, q := range of {
		w := weights[i] / sum
		out.V += w * q.V
		for _, s := range q.Sources {
			s.U *= w
			out.Sources = append(out.Sources, s)
		}
	}
	return out
}
