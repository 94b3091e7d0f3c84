package parts

import (
	"cmp"
	"strconv"

	"evenbeat/devices/quantity"
)

// labels are the figures' names as a clockmaker says them, where those differ from the
// names that the figures have in JSON.
var labels = map[string]string{
	"clearance over pivot":            "clearance, share of pivot",
	"lean in the hole":                "the pivot can lean by",
	"pivot longer than the plate":     "pivot past the plate by",
	"modules apart":                   "pinion's module over the wheel's",
	"distance of centres asked for":   "centre distance by the teeth",
	"centres measured less asked for": "holes further apart by",
	"length asked for":                "pendulum length required",
	"effective length":                "length of this one",
	"length over asked for, less one": "longer than required by",
}

// Label names the figure as a clockmaker says it.
func (f Figure) Label() string { return cmp.Or(labels[f.Name], f.Name) }

// Text writes the figure with its 95 % interval and, where there are any, the limits
// it is held against; lengths in the system's units, shares in per cent.
func (f Figure) Text(u quantity.System) string {
	if f.Unit == "m" {
		return u.Length(f.Value) + limits(f.Low, f.High, func(x float64) string { return u.Size(x, 3) })
	}
	switch f.Unit {
	case "°":
		return f.Value.Text("") + f.Unit
	case perDay:
		return f.Value.Signed(f.Unit)
	}
	return f.Value.Scale(100).Text("%") + limits(f.Low, f.High, func(x float64) string {
		return quantity.Minus(strconv.FormatFloat(x*100, 'g', 3, 64)) + " %"
	})
}

func limits(low, high *float64, write func(float64) string) string {
	switch {
	case low != nil && high != nil:
		return ", wanted " + write(*low) + " to " + write(*high)
	case high != nil:
		return ", wanted at most " + write(*high)
	case low != nil:
		return ", wanted at least " + write(*low)
	}
	return ""
}
