package periodic

import (
	"fmt"
	"math"

	"evenbeat/devices/quantity"
)

// Counts of teeth that clocks are made with: common practice, no source.
const (
	leastEscape, mostEscape = 12, 60
	usualEscape             = 30
	mostExplained           = 4
)

func pinionLeaves() []int { return []int{8, 10, 7, 6, 12, 14, 16} }

// explains names wheels and teeth that would make an error with this period, likelier
// ones first. nominal is the seconds a beat.
func explains(beats quantity.Value, nominal float64) []string {
	var out []string
	near := func(x float64) bool {
		return math.Abs(beats.V-x) <= math.Max(2*beats.Half95(), 1e-3*beats.V)
	}
	for _, t := range []struct {
		seconds float64
		text    string
	}{
		{3600, "an arbor that turns once an hour, as the centre's does"},
		{60, "an arbor that turns once a minute, as a seconds hand's does"},
	} {
		if near(t.seconds / nominal) {
			out = append(out, t.text)
		}
	}
	if teeth := math.Round(beats.V / 2); near(2*teeth) && teeth >= leastEscape && teeth <= mostEscape {
		out = append(out, fmt.Sprintf("an escape wheel of %.0f teeth, eccentric or with a tooth off", teeth))
	}
	out = append(out, driving(beats, near)...)
	if leaves := math.Round(2 * usualEscape / beats.V); leaves >= 6 && leaves <= 16 && near(2*usualEscape/leaves) {
		out = append(out, fmt.Sprintf("the %.0f leaves of the pinion on an escape wheel of %d teeth", leaves, usualEscape))
	}
	return out[:min(len(out), mostExplained)]
}

// driving names wheels that could drive the escape pinion: their arbor's turn takes
// wheel/pinion turns of the escape wheel.
func driving(beats quantity.Value, near func(float64) bool) []string {
	var out []string
	for _, escape := range []int{usualEscape, 36, 40, 32, 24, 15} {
		for _, leaves := range pinionLeaves() {
			wheel := math.Round(beats.V / float64(2*escape) * float64(leaves))
			ratio := wheel / float64(leaves)
			if ratio < 5 || ratio > 12 || wheel > 120 || !near(2*float64(escape)*ratio) {
				continue
			}
			out = append(out, fmt.Sprintf("the arbor whose wheel of %.0f teeth drives a pinion of %d leaves on an escape wheel of %d", wheel, leaves, escape))
			break // one pinion is enough for this escape wheel
		}
		if len(out) == 2 {
			break
		}
	}
	return out
}
