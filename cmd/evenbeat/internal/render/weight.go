package render

import (
	"io"

	"evenbeat/analysis/spring"
	"evenbeat/analysis/weight"
)

// Weight writes the findings on a weight and its drum for a person.
func Weight(w io.Writer, title string, f weight.Result) error {
	r := &Report{w: w}
	r.Head(title)
	r.value("turns of the drum", &f.Turns, "")
	r.value("going", f.GoingHours, "h")
	r.value("torque at the drum", f.Torque, "N·m")
	r.value("energy of the fall", f.Energy, "J")
	r.List("Why", "-", f.Reasons)
	var runs []spring.Run
	for _, x := range f.Runs {
		runs = append(runs, spring.Run(x))
	}
	r.runs(runs)
	r.List("Before you touch a weight", "!", f.Cautions)
	r.interval()
	return r.err
}
