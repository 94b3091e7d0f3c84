package spring

import (
	"fmt"

	"evenbeat/devices/quantity"
)

// working writes the sum as one would on paper, in millimetres or inches, so that
// anyone can hold it against their own; with both systems, in millimetres. It
// shows what a plus for the minus gives, the commonest slip with this formula.
func working(in Input, r Result) []string {
	if in.Bore == nil || in.Arbor == nil {
		return nil
	}
	p := paper{unit: "mm", per: 1e-3, decimals: 3}
	if in.Units == quantity.Imperial {
		p = paper{unit: "in", per: quantity.Inch.Metres(), decimals: 4}
	}
	b := newBase(in)
	s := b.at()
	out := []string{
		"bore D = " + p.size(s.Bore),
		"arbor d = " + p.size(s.Arbor),
	}
	if in.Strip != nil {
		out = append(out, "strip t = "+p.fine(s.Strip))
	}
	out = append(out,
		fmt.Sprintf("space A = π/4 × (D² − d²) = π/4 × (%s² − %s²) = %s", p.bare(s.Bore), p.bare(s.Arbor), p.area(s.Space())),
		"half of it = "+p.area(s.Space()/2))
	if in.Strip != nil {
		out = append(out, p.ideal(s.Barrel)...)
	}
	if b.from == FromNone {
		return out
	}
	return append(out, p.spring(in, r, s)...)
}

// paper writes numbers in one unit.
type paper struct {
	unit     string
	per      float64 // metres
	decimals int
}

func (p paper) bare(m float64) string { return fmt.Sprintf("%.*f", p.decimals, m/p.per) }
func (p paper) size(m float64) string { return p.bare(m) + " " + p.unit }
func (p paper) fine(m float64) string {
	return fmt.Sprintf("%.*f %s", p.decimals+1, m/p.per, p.unit)
}

// long is for lengths of strip, of which hundredths of an inch or tenths of a
// millimetre are plenty.
func (p paper) long(m float64) string { return fmt.Sprintf("%.2f %s", m/p.per, p.unit) }
func (p paper) area(m2 float64) string {
	return fmt.Sprintf("%.*f %s²", max(2, p.decimals-1), m2/p.per/p.per, p.unit)
}

func (p paper) ideal(b Barrel) []string {
	l := b.IdealLength()
	plus := Barrel{Bore: b.Bore, Strip: b.Strip}.IdealLength() + Barrel{Bore: b.Arbor, Strip: b.Strip}.IdealLength()
	return []string{
		fmt.Sprintf("ideal length L* = π(D² − d²)/(8t) = %s / %s = %s", p.area(b.Space()/2), p.fine(b.Strip), p.long(l)),
		fmt.Sprintf("not this: π(D² + d²)/(8t) = %s; a plus in place of the minus counts the arbor as room for the strip, and comes out %.0f %% too long here",
			p.long(plus), 100*(plus/l-1)),
	}
}

func (p paper) spring(in Input, r Result, s sizes) []string {
	var out []string
	l := s.stripLength()
	if in.Strip == nil {
		out = append(out, fmt.Sprintf("fill by the run-down coil, inside Di = %s: (D² − Di²)/(D² − d²) = %.4f", p.size(s.inner), s.fill()))
		return out
	}
	switch s.from {
	case FromInner:
		out = append(out, fmt.Sprintf("length from the run-down coil, inside Di = %s: L = π(D² − Di²)/(4t) = %s", p.size(s.inner), p.long(l)))
	case FromCoils:
		out = append(out, fmt.Sprintf("length from n = %g coils run down: L = π·n·(D − n·t) = %s", s.coils, p.long(l)))
	default:
		out = append(out, "length L = "+p.long(l))
	}
	out = append(out, fmt.Sprintf("fill = L × t / A = %s × %s / %s = %.4f", p.long(l), p.fine(s.Strip), p.area(s.Space()), s.Fill(l)))
	if r.Turns == nil {
		return append(out, "the strip takes more than the whole space, so there are no turns")
	}
	return append(out,
		"wound, outside Dw = √(d² + 4Lt/π) = "+p.size(s.Wound(l)),
		"run down, inside Di = √(D² − 4Lt/π) = "+p.size(s.Rundown(l)),
		fmt.Sprintf("coils: (Dw − d)/(2t) = %.3f wound, (D − Di)/(2t) = %.3f run down", s.CoilsWound(l), s.CoilsRundown(l)),
		fmt.Sprintf("turns = (Dw + Di − D − d)/(2t) = %.3f; most possible %.3f", s.Turns(l), s.Turns(s.IdealLength())))
}
