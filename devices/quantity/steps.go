package quantity

import (
	"math"
	"strings"
)

// step is the finest step in which a person can use values of a unit that are
// smaller than below; 0 is all of them.
type step struct{ below, finest float64 }

// steps are the finest steps by unit; a unit that is not here has none. They are of
// the trade (common practice, no source):
//
//   - A strip or a pivot is worked to the micrometer's thousandth of a millimetre, a
//     barrel to the caliper's hundredth, a pendulum to a tenth; a strip is cut to the
//     millimetre. Inches go by the same tools: a tenth of a thou and so on.
//   - A beat is set by ear and eye to a few milliseconds: a tenth is plenty.
//   - No clock on a bench keeps a hundredth of a second a day from week to week, and
//     no dial is read to better than a hundredth of a second.
//   - Turns of a nut or an arbor are set by eye to a hundredth at best, hours are
//     planned by the tenth. How many times one torque is another needs no more.
//   - Torque, energy and stress of a spring are estimates, and gauges on a lever tell
//     a thousandth of a newton metre.
var steps = map[string][]step{
	"mm":    {{10, 0.001}, {300, 0.01}, {1000, 0.1}, {0, 1}},
	"in":    {{0.4, 0.0001}, {12, 0.001}, {40, 0.01}, {0, 0.1}},
	"mm²":   {{0, 0.1}},
	"in²":   {{0, 0.001}},
	"ms":    {{0, 0.1}},
	"s":     {{0, 0.01}},
	"s/day": {{0, 0.01}},
	"h":     {{0, 0.1}},
	"turns": {{0, 0.01}},
	"times": {{0, 0.01}},
	"%":     {{0, 0.1}},
	"°":     {{0, 0.01}},
	"ppm":   {{0, 0.1}},
	"N·m":   {{0, 0.001}},
	"J":     {{0, 0.1}},
}

// finestStep returns the finest step in which a value of this size is told; 0 for any.
// What follows the unit's name, such as "a turn" or "(estimate)", doesn't matter.
func finestStep(unit string, size float64) float64 {
	if i := strings.IndexAny(unit, " ,"); i >= 0 {
		unit = unit[:i]
	}
	for _, s := range steps[unit] {
		if s.below == 0 || size < s.below {
			return s.finest
		}
	}
	return 0
}

// decimalsOf returns the decimals that a step of a power of ten takes.
func decimalsOf(step float64) int {
	if !(step > 0) {
		return 0
	}
	return max(0, -int(math.Round(math.Log10(step))))
}
