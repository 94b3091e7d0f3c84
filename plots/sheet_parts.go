package plots

import (
	"evenbeat/analysis/parts"
	"evenbeat/devices/quantity"
)

// fitPart is one fit of the movement: a pivot in its bush, a wheel and its pinion,
// a pendulum.
func fitPart(page *sheetPage, r parts.Result, u quantity.System) sheetPart {
	p := sheetPart{Name: printable(r.What), Value: string(r.Verdict), Reasons: r.Reasons}
	if r.Part != "" {
		p.Finding = printable(r.Part)
	}
	for _, f := range r.Figures {
		p.Values = append(p.Values, [2]string{f.Label(), f.Text(u)})
	}
	page.Cautions = append(page.Cautions, r.Cautions...)
	page.Next = append(page.Next, r.Next...)
	return p
}
