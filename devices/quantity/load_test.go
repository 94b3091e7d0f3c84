package quantity

import (
	"math"
	"testing"
)

// A pound-force is 4.4482216152605 N and an ounce-force 0.27801385095378125 N by the
// definitions of the pound and of standard gravity.
func TestParseLoad(t *testing.T) {
	for _, c := range []struct {
		text, unit     string
		v, kg, newton  float64
		newtonMetre, u float64
	}{
		{"5kg", "kg", 5, 1, 9.80665, 0, 0},
		{" 4.5±0.1 kg ", "kg", 4.5, 1, 9.80665, 0, 0.1 / math.Sqrt(3)},
		{"800g", "g", 800, 1e-3, 9.80665e-3, 0, 0},
		{"1lbf", "lbf", 1, 0, 4.4482216152605, 0, 0},
		{"16ozf", "ozf", 16, 0, 0.27801385095378125, 0, 0},
		{"2lb", "lb", 2, 0.45359237, 4.4482216152605, 0, 0},
		{"3.2N", "N", 3.2, 0, 1, 0, 0},
		{"0.75(2)Nm", "Nm", 0.75, 0, 0, 1, 0.02},
		{"750Nmm", "Nmm", 750, 0, 0, 1e-3, 0},
	} {
		n, unit, ok := ParseLoad(c.text, "Nmm", "Nm", "N", "kgf", "lbf", "ozf", "kg", "g", "lb")
		if !ok || unit != (Load{c.unit, c.kg, c.newton, c.newtonMetre}) || n.V != c.v || math.Abs(n.U-c.u) > 1e-15 {
			t.Errorf("%q: %+v %+v, %v", c.text, n, unit, ok)
		}
	}
	for _, text := range []string{"", "5", "kg", "5 stone", "-5kg", "0kg", "5oz", "5KG", "1e3kg"} {
		if n, unit, ok := ParseLoad(text, "kg", "g"); ok {
			t.Errorf("%q was read as %+v %s", text, n, unit.Name)
		}
	}
}
