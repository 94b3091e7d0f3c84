package main

import (
	"fmt"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// massLimit is the limit of error of a mass that states none, as a share: a
// household scale (common practice, no source).
const massLimit = 0.02

// parseMass reads a mass in kilograms, grams, pounds or ounces: 5kg, 4.5±0.1kg, 11lb.
func parseMass(text string) (uncertainty.Quantity, error) {
	n, unit, ok := quantity.ParseLoad(text, "kg", "g", "lb", "oz")
	if !ok {
		return uncertainty.Quantity{}, fmt.Errorf("%q is no mass: write it like 5kg, 4.5±0.1kg, 800g or 11lb", text)
	}
	n = n.Times(unit.Kilogram)
	if n.Stated {
		return uncertainty.Stated("mass", n), nil
	}
	return uncertainty.Limit("mass", n.V, n.V*massLimit, "", uncertainty.CauseAssumed), nil
}
