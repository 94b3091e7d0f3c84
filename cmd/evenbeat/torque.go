package main

import (
	"math"
	"strings"

	"evenbeat/analysis"
	"evenbeat/devices/quantity"
)

// torqueUnits are the units of a torque that is typed as one, in newton metres.
var torqueUnits = []unitOf{{"Nmm", 1e-3}, {"Ncm", 1e-2}, {"Nm", 1}}

// forceUnits are the units of a force on a lever, in newtons. A mass stands for its
// weight under standard gravity, 9.80665 m/s² (CGPM 1901), which is a place's own to
// 0.3 %; pound and ounce avoirdupois, 0.45359237 kg and a sixteenth of it (agreement
// of 1959).
var forceUnits = []unitOf{
	{"kgf", 9.80665}, {"gf", 9.80665e-3}, {"lbf", 4.4482216152605}, {"ozf", 0.27801385095378125},
	{"kg", 9.80665}, {"g", 9.80665e-3}, {"lb", 4.4482216152605}, {"oz", 0.27801385095378125}, {"N", 1},
}

type unitOf struct {
	name string
	si   float64
}

const torqueForms = "0.75Nm, 0.75±0.05Nm, 3.2N*235mm by a force gauge, or 0.35kg*235mm by a weight on a lever"

// parseTorque reads a torque, or a force and the lever it acts on. What a force and
// its lever state is taken together; where either states nothing the whole counts as
// stating nothing.
func (a *app) parseTorque(text string) (analysis.Given, error) {
	bad := func() (analysis.Given, error) {
		return analysis.Given{}, badCall("--torque %q is no torque: write it like %s", text, torqueForms)
	}
	plain := strings.NewReplacer("·", "", " ", "", "×", "*").Replace(text)
	force, lever, product := strings.Cut(plain, "*")
	if !product {
		g, ok := withUnit(plain, torqueUnits)
		if !ok {
			return bad()
		}
		return g, nil
	}
	f, ok := withUnit(force, forceUnits)
	if !ok {
		return bad()
	}
	l, err := quantity.ParseLength(lever, a.assume())
	if err != nil {
		return analysis.Given{}, badCall("--torque %q: the lever %w", text, err)
	}
	if l.Metres <= 0 {
		return bad()
	}
	g := analysis.Given{V: f.V * l.Metres, Stated: f.Stated && l.Stated}
	if g.Stated {
		g.U = math.Hypot(f.U*l.Metres, l.U*f.V)
	}
	return g, nil
}

// withUnit reads a number with one of these units.
func withUnit(text string, units []unitOf) (analysis.Given, bool) {
	for _, u := range units {
		bare, ok := strings.CutSuffix(text, u.name)
		if !ok {
			continue
		}
		n, err := quantity.ParseCount(bare)
		if err != nil {
			return analysis.Given{}, false
		}
		return analysis.Given{V: n.V * u.si, U: n.U * u.si, Stated: n.Stated, Rectangular: n.Rectangular}, true
	}
	return analysis.Given{}, false
}
