package quantity

import "strings"

// Load is a unit of mass, force or torque. Sizes that don't apply are 0; a mass also
// has the force of its weight under standard gravity, which a place's own weight
// meets within 0.3 %.
type Load struct {
	Name                          string
	Kilogram, Newton, NewtonMetre float64 // the size of one
}

const (
	// StandardGravity in m/s² is a definition (3rd CGPM, 1901).
	StandardGravity = 9.80665
	// pound is the avoirdupois pound in kg (agreement of 1959), 16 ounces.
	pound = 0.45359237
	// inch in m (the same agreement).
	inch = 0.0254
)

// loads has longer names before those that they begin or end with.
var loads = []Load{
	{Name: "Nmm", NewtonMetre: 1e-3},
	{Name: "Ncm", NewtonMetre: 1e-2},
	{Name: "Nm", NewtonMetre: 1},
	{Name: "kgfcm", NewtonMetre: 1e-2 * StandardGravity},
	{Name: "kgcm", NewtonMetre: 1e-2 * StandardGravity},
	{Name: "gfcm", NewtonMetre: 1e-5 * StandardGravity},
	{Name: "gcm", NewtonMetre: 1e-5 * StandardGravity},
	{Name: "inlb", NewtonMetre: inch * pound * StandardGravity},
	{Name: "lbin", NewtonMetre: inch * pound * StandardGravity},
	{Name: "inoz", NewtonMetre: inch * pound / 16 * StandardGravity},
	{Name: "ozin", NewtonMetre: inch * pound / 16 * StandardGravity},
	{Name: "N", Newton: 1},
	{Name: "kgf", Newton: StandardGravity},
	{Name: "gf", Newton: 1e-3 * StandardGravity},
	{Name: "lbf", Newton: pound * StandardGravity},
	{Name: "ozf", Newton: pound / 16 * StandardGravity},
	{Name: "kg", Kilogram: 1, Newton: StandardGravity},
	{Name: "g", Kilogram: 1e-3, Newton: 1e-3 * StandardGravity},
	{Name: "lb", Kilogram: pound, Newton: pound * StandardGravity},
	{Name: "oz", Kilogram: pound / 16, Newton: pound / 16 * StandardGravity},
}

// FindLoad returns the unit of a name, in any case.
func FindLoad(name string) (Load, bool) {
	for _, u := range loads {
		if strings.EqualFold(u.Name, name) {
			return u, true
		}
	}
	return Load{}, false
}

// ParseLoad reads a number as ParseCount does, with one of the named units behind it.
// The first that the text ends with counts. It reports false for any other text.
func ParseLoad(text string, names ...string) (Number, Load, bool) {
	text = strings.TrimSpace(text)
	for _, name := range names {
		if bare, ok := strings.CutSuffix(text, name); ok {
			unit, known := FindLoad(name)
			n, err := ParseCount(bare)
			return n, unit, known && err == nil
		}
	}
	return Number{}, Load{}, false
}
