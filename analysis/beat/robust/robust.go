// Package robust holds the location and the scale of a sample that a few outliers
// don't move.
package robust

import "slices"

// Median returns the median of v, the mean of the middle two where their number is
// even, and 0 of none. It sorts v.
func Median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}

// Deviation returns the standard deviation of a normal sample from the distances of
// its values from their centre: 1.4826 times the median. It sorts distances.
func Deviation(distances []float64) float64 { return 1.4826 * Median(distances) }
