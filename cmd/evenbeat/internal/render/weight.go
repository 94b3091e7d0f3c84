package render

import (
	"io"

	"evenbeat/analysis/spring"
	"evenbeat/analysis/weight"
	"evenbeat/devices/quantity"
)

const beforeWeight = "Before you touch a weight"

// Weight writes the findings on a weight and its drum for a person: on one screen, or
// in full.
func Weight(w io.Writer, title string, f weight.Result, full bool) error {
	if full {
		return weightFull(w, title, f)
	}
	a := answer{title: title, heads: runHeads, tableTitle: runsTitle, before: beforeWeight, cautions: f.Cautions,
		last: interval + " evenbeat weight --full says why."}
	a.says = "The line gives the drum " + f.Turns.Text("turns") + "."
	if f.GoingHours != nil {
		a.says = "The clock goes " + f.GoingHours.Text("h") + " on one winding."
		a.figures = append(a.figures, [2]string{"turns of the drum", f.Turns.Text("")})
	}
	add := func(name string, v *quantity.Value, unit string) {
		if v != nil {
			a.figures = append(a.figures, [2]string{name, v.Text(unit)})
		}
	}
	add("torque at the drum", f.Torque, "N·m")
	add("energy of the fall", f.Energy, "J")
	a.rows = runRows(springRuns(f), quantity.Value.Signed)
	return a.write(w)
}

// weightFull writes all that is found of a weight.
func weightFull(w io.Writer, title string, f weight.Result) error {
	r := New(w)
	r.Head(title)
	r.value("turns of the drum", &f.Turns, "")
	r.value("goes on one winding", f.GoingHours, "h")
	r.value("torque at the drum", f.Torque, "N·m")
	r.value("energy of the fall", f.Energy, "J")
	r.List("Why", "-", f.Reasons)
	r.columns(runsTitle, runHeads, runRows(springRuns(f), quantity.Value.FullSigned), nil)
	r.List(beforeWeight, "!", f.Cautions)
	r.Printf("\n%s\n", interval)
	return r.err
}

func springRuns(f weight.Result) (runs []spring.Run) {
	for _, x := range f.Runs {
		runs = append(runs, spring.Run(x))
	}
	return runs
}
