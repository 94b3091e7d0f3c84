package main

import (
	"math"
	"strings"

	"evenbeat/devices/quantity"
)

const torqueForms = "0.75Nm, 0.75±0.05Nm, 5inlb, 8kgcm, 3.2N*235mm by a force gauge, or 0.35kg*235mm by a weight on a lever"

// parseTorque reads a torque, or a force and the lever it acts on. What a force and
// its lever state is taken together; where either states nothing the whole counts as
// stating nothing.
func (a *app) parseTorque(text string) (quantity.Number, error) {
	bad := func() (quantity.Number, error) {
		return quantity.Number{}, badCall("--torque %q is no torque: write it like %s", text, torqueForms)
	}
	plain := strings.NewReplacer("·", "", " ", "", "×", "*", "-lb", "lb", "-in", "in", "-oz", "oz", "-cm", "cm").Replace(text)
	force, lever, product := strings.Cut(plain, "*")
	if !product {
		n, unit, ok := quantity.ParseLoad(plain, "Nmm", "Ncm", "Nm", "kgfcm", "kgcm", "gfcm", "gcm", "inlb", "lbin", "inoz", "ozin")
		if !ok {
			return bad()
		}
		return n.Times(unit.NewtonMetre), nil
	}
	f, unit, ok := quantity.ParseLoad(force, "kgf", "gf", "lbf", "ozf", "kg", "g", "lb", "oz", "N")
	if !ok {
		return bad()
	}
	f = f.Times(unit.Newton)
	l, err := quantity.ParseLength(lever, a.assume())
	if err != nil {
		return quantity.Number{}, badCall("--torque %q: the lever %w", text, err)
	}
	if l.Metres <= 0 {
		return bad()
	}
	g := quantity.Number{V: f.V * l.Metres, Stated: f.Stated && l.Stated}
	if g.Stated {
		g.U = math.Hypot(f.U*l.Metres, l.U*f.V)
	}
	return g, nil
}
