package pendulum

import (
	"fmt"
	"strconv"
	"strings"

	"evenbeat/devices/quantity"
)

// Rod is what a pendulum hangs by.
type Rod struct {
	Name string
	// Expansion is the thermal expansion per K.
	Expansion quantity.Value
}

// rods: Beckett, Rudimentary Treatise, 8th ed., p. 53, printed per 1000 °F: steel
// 0.0064, brass 0.0100, white deal 0.0023; times 1.8e-3 for one K. Invar: about
// 1e-6, from memory. The standard uncertainties cover what alloys and woods differ
// by (steel rods measured for pendulums: 10.34 to 11.62e-6, Goodrich, The Modern
// Clock, 1905); for the others common practice, no source.
var rods = []Rod{
	{Name: "steel", Expansion: quantity.Value{V: 11.52e-6, U: 0.65e-6}},
	{Name: "brass", Expansion: quantity.Value{V: 18.0e-6, U: 0.6e-6}},
	{Name: "wood", Expansion: quantity.Value{V: 4.14e-6, U: 0.8e-6}},
	{Name: "invar", Expansion: quantity.Value{V: 1.0e-6, U: 0.5e-6}},
}

// ParseRod reads steel, brass, wood, invar, or a number of ppm per K from −50 to
// 200 (decimal comma accepted). The uncertainty of a number is taken as none.
func ParseRod(text string) (Rod, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	for _, r := range rods {
		if r.Name == s {
			return r, nil
		}
	}
	ppm, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(strings.TrimSuffix(s, "ppm")), ",", ".", 1), 64)
	if err != nil || !(ppm >= -50 && ppm <= 200) {
		return Rod{}, fmt.Errorf("rod %q is not known: write steel, brass, wood, invar, or its expansion in ppm per K (-50 to 200)", text)
	}
	return Rod{Name: fmt.Sprintf("%g ppm per K", ppm), Expansion: quantity.Value{V: ppm * 1e-6}}, nil
}

// PerKelvin returns the change of rate in s/day for one K more: −43200·α, since a
// longer rod beats slower. The bob's own expansion, which works against it, is left
// out. Source: the period goes with √L; EB11 p. 539 gives the same for steel (1
// s/day for "about 4" °F).
func (r Rod) PerKelvin() quantity.Value { return r.Expansion.Scale(-halfDay) }
