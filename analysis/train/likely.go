package train

import (
	"cmp"
	"math"
	"slices"
)

// Likely is a beat rate that many clocks have.
type Likely struct {
	BeatsPerHour float64
	Name         string
	SecPerDay    float64 // rate of the clock against it, plus = gains
}

// likely: common practice, no source.
var likely = []Likely{
	{BeatsPerHour: 1800, Name: "two-second pendulum"},
	{BeatsPerHour: 2400, Name: "1½-second pendulum"},
	{BeatsPerHour: 2880, Name: "1¼-second pendulum"},
	{BeatsPerHour: 3600, Name: "seconds pendulum"},
	{BeatsPerHour: 4800, Name: "¾-second pendulum"},
	{BeatsPerHour: 5400, Name: "⅔-second pendulum"},
	{BeatsPerHour: 7200, Name: "half-second pendulum"},
	{BeatsPerHour: 9000, Name: "short pendulum"},
	{BeatsPerHour: 10080, Name: "short pendulum"},
	{BeatsPerHour: 14400, Name: "balance, or quarter-second pendulum"},
	{BeatsPerHour: 18000, Name: "balance"},
	{BeatsPerHour: 19800, Name: "balance"},
	{BeatsPerHour: 21600, Name: "balance"},
	{BeatsPerHour: 28800, Name: "balance"},
}

// Near returns the usual beat rates within 2 % (1728 s/day) of a measured interval
// in seconds, the nearest first; none for an interval that is no positive number.
func Near(intervalS float64) []Likely {
	var out []Likely
	if !(intervalS > 0) {
		return nil
	}
	for _, l := range likely {
		l.SecPerDay = 86400 * (3600/l.BeatsPerHour/intervalS - 1)
		if l.SecPerDay >= -1728 && l.SecPerDay <= 1728 {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b Likely) int {
		return cmp.Compare(math.Abs(a.SecPerDay), math.Abs(b.SecPerDay))
	})
	return out
}
