package stability

import (
	"cmp"
	"fmt"

	"evenbeat/devices/quantity"
)

// Steadiest says at which averaging time the overlapping Allan deviation is least, and
// how large it is there, in s/day with its 68 % interval. A deviation of a single term
// doesn't count. Where none at a longer time is surely greater, the least may lie beyond
// the table. It returns "" where no row has one that a clock could have.
func Steadiest(rows []Row) string {
	var best Row
	rises := false // behind the least
	for _, r := range rows {
		if r.N == 1 || !canBe(r.OADev) {
			continue
		}
		if best.OADev == nil || *r.OADev < *best.OADev {
			best, rises = r, false
		}
		rises = rises || *cmp.Or(r.Low, r.OADev) > *best.OADev
	}
	if best.OADev == nil {
		return ""
	}
	const day = 86400
	text := "Steadiest over %s, or longer than this run can tell: %.2g s/day"
	if rises {
		text = "Steadiest over %s: %.2g s/day"
	}
	text = fmt.Sprintf(text, quantity.SpanText(best.TauS), *best.OADev*day)
	if canBe(best.Low) && canBe(best.High) {
		text += fmt.Sprintf(" (68 %% interval %.2g to %.2g)", *best.Low*day, *best.High*day)
	}
	return quantity.Minus(text)
}

// canBe reports whether a deviation is there and a clock could have it.
func canBe(dev *float64) bool { return dev != nil && *dev > 1e-18 && *dev < 1e9 }
