package plots

import (
	"fmt"
	"slices"
	"strconv"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// springParts sets the spring of each part. Where there are several, a heading names its
// part, and so do tasks and cautions that are not for all of them.
func springParts(page *sheetPage, f Findings) error {
	if f.Spring == nil {
		return nil
	}
	all := append([]spring.Result{*f.Spring}, f.Others...)
	for n, r := range all {
		p, named := springPart(r, f.Units), ""
		if len(all) > 1 {
			p.Name += ", " + printable(r.Part)
			p.suffix = "-" + strconv.Itoa(n+1)
			named = printable(r.Part) + ": "
		}
		f.Spring = &r
		if err := p.add(f, "barrel", "turns"); err != nil {
			return fmt.Errorf("spring of %s: %w", r.Part, err)
		}
		page.Parts = append(page.Parts, p)
		for _, do := range r.Next {
			page.Next = append(page.Next, named+do)
		}
		for _, c := range r.Cautions {
			if slices.ContainsFunc(all, func(o spring.Result) bool { return !slices.Contains(o.Cautions, c) }) {
				c = named + c
			}
			if !slices.Contains(page.Cautions, c) {
				page.Cautions = append(page.Cautions, c)
			}
		}
	}
	return nil
}

func springPart(r spring.Result, u quantity.System) sheetPart {
	p := sheetPart{Name: "Mainspring", Value: string(r.Whole.Verdict), Finding: springTitle(r) + ".", Reasons: r.Reasons, Working: r.Working}
	for _, row := range []struct {
		name string
		v    *quantity.Value
	}{{"bore", r.Bore}, {"arbor", r.Arbor}, {"strip's thickness", r.Strip}, {"strip's height", r.Height},
		{"length", r.Length}, {"ideal length", r.IdealLength}} {
		if told(row.v) {
			p.Values = append(p.Values, [2]string{row.name, u.FullLength(*row.v)})
		}
	}
	for _, row := range []struct {
		name, unit string
		v          *quantity.Value
	}{{"filled (0.5 is best)", "", r.Fill}, {"turns", "", r.Turns}, {"most turns possible", "", r.TurnsBest}} {
		if told(row.v) {
			p.Values = append(p.Values, [2]string{row.name, row.v.Full(row.unit)})
		}
	}
	for _, row := range []struct {
		name, unit string
		v          *spring.Estimate
	}{{"goes on one winding", "h", r.GoingHours}, {"energy, fully wound", "J", r.Energy}, {"torque, fully wound", "N m", r.TorqueFull}, {"torque, end of run", "N m", r.TorqueEnd}} {
		if row.v != nil && row.v.Finite() {
			p.Values = append(p.Values, [2]string{row.name, row.v.Full(row.unit)})
		}
	}
	if r.Order != nil {
		p.Order = r.Order.Says
	}
	p.Tables = springTables(r, u)
	return p
}

// springTables are what the findings list in rows: where the uncertainty comes from, the
// length by each way to it, the usual runs, the rules of the trade, and what else would
// fit.
func springTables(r spring.Result, u quantity.System) []sheetTable {
	var tables []sheetTable
	for _, t := range []sheetTable{budgetTable(r), waysTable(r, u), runsTable(r), rulesTable(r, u), stockTable(r, u), bandTable(r, u)} {
		if len(t.Rows) > 0 {
			tables = append(tables, t)
		}
	}
	return tables
}

func budgetTable(r spring.Result) sheetTable {
	t := sheetTable{Title: "Where the uncertainty comes from", Head: []string{"Measurement", "Its share", "What would make it surer"}}
	for _, b := range r.Budget {
		t.Rows = append(t.Rows, []string{b.Input, strconv.FormatFloat(b.Share*100, 'f', 0, 64) + " %", b.Better})
	}
	return t
}

// waysTable is empty if there is only one way, with nothing to compare it with.
func waysTable(r spring.Result, u quantity.System) sheetTable {
	t := sheetTable{Title: "The length, by each way to it", Head: []string{"By", "Length", "Filled"}}
	if len(r.InPlace) < 2 {
		return t
	}
	for _, w := range r.InPlace {
		t.Rows = append(t.Rows, []string{string(w.From), u.FullLength(w.Length), w.Fill.Full("")})
	}
	return t
}

func runsTable(r spring.Result) sheetTable {
	t := sheetTable{Title: "How long it goes", Head: []string{"Days", "Turns it takes", "Turns to spare"}}
	for _, x := range r.Runs {
		t.Rows = append(t.Rows, []string{fmt.Sprintf("%g", x.Days), fmt.Sprintf("%.4g", x.Turns), x.Reserve.FullSigned("")})
	}
	return t
}

func rulesTable(r spring.Result, u quantity.System) sheetTable {
	t := sheetTable{Title: "Rules of the trade", Wide: true, Head: []string{"Rule", "Held", "Room to the limit", "In words", "Source"}}
	for _, l := range r.Rules {
		t.Rows = append(t.Rows, []string{l.Title(), l.Held.Words(), l.MarginText(u), l.Says, l.Source})
	}
	return t
}

func stockTable(r spring.Result, u quantity.System) sheetTable {
	t := sheetTable{Title: "From stock, best first", Head: []string{"Strip", "Thickness", "Length", "Turns", "Filled", "Verdict", "To know"}}
	for _, l := range r.Stock {
		t.Rows = append(t.Rows, []string{l.Name, u.Size(l.Thickness, 3), u.Size(l.Length, 0),
			strconv.FormatFloat(l.Turns, 'f', 1, 64), strconv.FormatFloat(l.Fill, 'f', 2, 64), string(l.Verdict), l.Why})
	}
	return t
}

func bandTable(r spring.Result, u quantity.System) sheetTable {
	t := sheetTable{Title: "What would fit this barrel", Head: []string{"Thickness", "Length from", "Ideal", "To", "Most turns"}}
	for _, x := range r.Band {
		t.Rows = append(t.Rows, []string{u.Size(x.Thickness, 3), u.Size(x.LengthLow, 0), u.Size(x.LengthIdeal, 0), u.Size(x.LengthHigh, 0),
			strconv.FormatFloat(x.TurnsBest, 'f', 2, 64)})
	}
	return t
}
