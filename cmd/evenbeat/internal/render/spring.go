package render

import (
	"fmt"
	"io"
	"strings"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// Spring writes the findings on a spring for a person: on one screen, or in full.
func Spring(w io.Writer, title string, f spring.Result, u quantity.System, full bool) error {
	if full {
		return springFull(w, title, f, u)
	}
	a := answer{title: title, says: f.Whole.Says + ".", figures: springFigures(f, u), mark: "-", reasons: f.Matters, next: f.Next,
		before: beforeSpring, cautions: f.Cautions, last: interval + " evenbeat spring --full shows the working."}
	if len(f.Stock) > 0 {
		a.tableTitle, a.heads = "From stock, best first", stockHeads
		for _, s := range f.Stock {
			row := stockRow(s, u)
			row[0], row[2], row[3], row[5], row[7] = clip(row[0], 16), "", "", "", ""
			a.rows = append(a.rows, row)
		}
		a.figures = a.figures[:min(2, len(a.figures))]
	}
	return a.write(w)
}

const beforeSpring = "Before you touch a spring"

// springFigures are the figures that answer whether the spring fits and how long it
// goes or, where the fill isn't known, what was measured.
func springFigures(f spring.Result, u quantity.System) (rows [][2]string) {
	add := func(name, value string) { rows = append(rows, [2]string{name, value}) }
	if f.Fill == nil {
		for _, x := range []struct {
			name string
			v    *quantity.Value
		}{{"bore", f.Bore}, {"arbor", f.Arbor}, {"strip thickness", f.Strip}, {"strip length", f.Length}, {"ideal length", f.IdealLength}} {
			if x.v != nil {
				add(x.name, u.Length(*x.v))
			}
		}
		if f.TurnsBest != nil {
			add("most turns possible", strings.TrimSuffix(f.TurnsBest.Text("turns"), " turns"))
		}
		return rows
	}
	add("fill", fmt.Sprintf("%s of the space; half is ideal, %.3g to %.3g %% fits%s",
		f.Fill.Scale(100).Text("%"), 100*f.FillLow, 100*f.FillHigh, drawn(f, "fill", 100, " %")))
	if f.Length != nil && f.IdealLength != nil {
		per, unit := 1e3, " mm"
		if u == quantity.Imperial {
			per, unit = 1/quantity.Inch.Metres(), " in"
		}
		add("length", u.Length(*f.Length)+lean(f.OverIdeal, u)+"ideal length "+u.Length(*f.IdealLength)+drawn(f, "ideal_length_m", per, unit))
	}
	if f.Turns != nil && f.TurnsBest != nil {
		add("turns", fmt.Sprintf("%s; most possible %s%s", strings.TrimSuffix(f.Turns.Text("turns"), " turns"), f.TurnsBest.Plain("turns"), drawn(f, "turns", 1, "")))
	}
	if f.GoingHours != nil {
		text := f.GoingHours.Text("h")
		if run := f.SureRun(); run != nil {
			text += fmt.Sprintf(", enough for %g %s", run.Days, quantity.Plural(int64(run.Days), "day", "days"))
		}
		add("goes", text)
	}
	if f.TorqueFull != nil && f.Energy != nil {
		add("fully wound", f.TorqueFull.Text("N·m")+" and "+f.Energy.Text("J")+" (estimates)")
	}
	return rows
}

// lean says how much longer than ideal a length is, where that can be told.
func lean(over float64, u quantity.System) string {
	switch {
	case over > 0:
		return ", " + u.Size(over, 0) + " longer than the "
	case over < 0:
		return ", " + u.Size(-over, 0) + " shorter than the "
	}
	return "; "
}

// drawn tells a figure's 95 % interval by Monte Carlo, where it was asked for.
func drawn(f spring.Result, figure string, per float64, unit string) string {
	for _, d := range f.MonteCarlo {
		if d.Figure == figure {
			return "; Monte Carlo " + d.Interval(1/per) + unit
		}
	}
	return ""
}
