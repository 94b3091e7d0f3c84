package spring

import (
	"fmt"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// The rules that the verdict on the whole spring rests on.
const (
	endFloat     = "end float"
	arborToStrip = "arbor to strip"
)

const noSource = "common practice, no source"

// rules holds the spring against the rules of the trade. Those whose inputs are not
// known are left out.
func rules(in Input) []Rule {
	l := in.Limits
	var out []Rule
	ratio := func(x []float64) float64 { return x[0] / x[1] }
	if in.Arbor != nil && in.Bore != nil {
		out = in.rule(out, Rule{
			Name: "arbor to bore", Low: l.ArborShareLow, High: l.ArborShareHigh,
			Source: `H. Jendritzki, "Die Zugfeder", 1950: a third of the bore; the limits around it: ` + noSource,
		}, "of the bore; about a third leaves room for turns without bending the strip too sharply", ratio, in.Arbor, in.Bore)
	}
	if in.Arbor != nil && in.Strip != nil {
		out = in.rule(out, Rule{Name: arborToStrip, Low: l.ArborPerStripLow, Source: noSource},
			"times the strip's thickness; a thinner arbor breaks the inner end", ratio, in.Arbor, in.Strip)
	}
	if in.Depth != nil && in.Height != nil {
		out = in.rule(out, Rule{
			Name: endFloat, Low: l.EndFloatLow, High: l.EndFloatHigh,
			Source: `H. Jendritzki, "Die Zugfeder", 1950: strip about 0.1 mm lower than the inside, for watches; the upper limit: ` + noSource,
			Unit:   "m",
		}, "between strip and cover; with less the strip rubs, with more the coils climb", less, in.Depth, in.Height)
	}
	if in.FreeAcross != nil && in.Bore != nil {
		out = in.rule(out, Rule{Name: "set of the spring", Low: l.FreeShareLow, Source: noSource},
			"times the bore, lying free; a spring that opens less is tired", ratio, in.FreeAcross, in.Bore)
	}
	return append(out, hookRule(in.Hook))
}

// hookRule is the one rule that can't be measured: it says how hook and hole were found, or
// what to look at.
func hookRule(found Held) Rule {
	r := Rule{Name: "hook and hole", Held: found, Source: noSource}
	switch found {
	case Kept:
		r.Says = "hook and hole were looked at and are sound"
	case Broken:
		r.Says = "hook or hole is not sound"
	default:
		r.Held = Look
		r.Says = "look at both ends: hole round and uncracked, hook square and no higher than the strip is thick, inner coil hugging the arbor for most of a turn"
	}
	return r
}

// rule appends one rule with its value and the sentence that says it.
func (in Input) rule(out []Rule, r Rule, says string, f func([]float64) float64, a, b *uncertainty.Quantity) []Rule {
	q, err := uncertainty.Propagate(r.Name, []uncertainty.Quantity{*a, *b}, f)
	if err != nil {
		return out
	}
	v := q.Value()
	r.Value = &v
	r.Held, r.Margin = held(v, r.Low, r.High)
	text := v.Text("")
	if r.Unit == "m" {
		text = in.Units.Length(v)
	}
	r.Says = text + " " + says
	return append(out, r)
}

// Words says whether a rule is kept as one would write it beside it.
func (h Held) Words() string {
	switch h {
	case Kept:
		return "OK"
	case Broken:
		return "out"
	case Look:
		return "inspect"
	}
	return string(h)
}

// Title names the rule as one says it.
func (r Rule) Title() string {
	if r.Name == endFloat {
		return "clearance under the cover"
	}
	return r.Name
}

// MarginText writes how far the value is from its nearer limit, in the units asked
// for; "" for a rule without figures.
func (r Rule) MarginText(u quantity.System) string {
	switch {
	case r.Value == nil:
		return ""
	case r.Unit == "m":
		return u.Size(r.Margin, 2)
	}
	return fmt.Sprintf("%.2g", r.Margin)
}

// held holds a value against limits; a high limit of 0 is none.
func held(v quantity.Value, low, high float64) (Held, float64) {
	margin := v.V - low
	if high > 0 {
		margin = min(margin, high-v.V)
	}
	switch {
	case margin-v.Half95() >= 0:
		return Kept, margin
	case margin+v.Half95() < 0:
		return Broken, margin
	}
	return Unclear, margin
}
