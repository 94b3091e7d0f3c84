package main

import (
	"fmt"
	"math"
	"strings"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// massLimit is the limit of error of a mass that states none, as a share: a
// household scale (common practice, no source).
const massLimit = 0.02

// parseMass reads a mass in kilograms or grams: 5kg, 4.5±0.1kg, 800g.
func parseMass(text string) (uncertainty.Quantity, error) {
	scale := 1.0
	bare, ok := strings.CutSuffix(strings.TrimSpace(text), "kg")
	if !ok {
		scale = 1e-3
		bare, ok = strings.CutSuffix(bare, "g")
	}
	n, err := quantity.ParseCount(bare)
	if !ok || err != nil {
		return uncertainty.Quantity{}, fmt.Errorf("%q is no mass: write it like 5kg, 4.5±0.1kg or 800g", text)
	}
	q := uncertainty.Limit("mass", n.V*scale, n.V*scale*massLimit, "", uncertainty.CauseAssumed)
	if n.Stated {
		q = uncertainty.Limit("mass", n.V*scale, n.U*scale*math.Sqrt(3), "", uncertainty.CauseStated)
		if !n.Rectangular {
			q.Sources[0].Shape = uncertainty.Normal
		}
	}
	return q, nil
}
