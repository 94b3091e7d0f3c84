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
	// Zero is what the instrument shows with its jaws closed. It is subtracted from each
	// reading. Its own errors are in Zero.Sources.
	Zero Quantity
}

// FromReadings returns the mean of repeated readings, corrected for the zero
// error, with its errors:
//   - the scatter of the mean, s/√n with n−1 degrees of freedom (JCGM 100:2008,
//     4.2.3), where there are two or more readings;
//   - the instrument's limit ±a as a/√3 (4.3.7), shared by all its readings;
//   - the resolution as step/√12 (F.2.2.1), where all readings are the same. Once they
//     differ, rounding is part of their scatter and would count twice;
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
	if n > 1 {
		var sum float64
		for _, x := range readings {
			sum += (x - mean) * (x - mean)
		}
		s := math.Sqrt(sum / (n - 1))
		// Rounding of equal readings must not pass for scatter.
		if s > 1e-12*math.Abs(mean) {
			q.Sources = append(q.Sources, Source{U: s / math.Sqrt(n), Shape: Student, DoF: n - 1, Cause: CauseScatter})
		}
	}
	if in.Step > 0 && len(q.Sources) == 0 {
		q.Sources = append(q.Sources, Source{U: in.Step / math.Sqrt(12), Shape: Rectangular, Cause: CauseResolution})
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
