package render

import (
	"io"

	"evenbeat/analysis/parts"
	"evenbeat/devices/quantity"
)

// Fits writes how the parts of a clock fit for a person.
func Fits(w io.Writer, title string, found []parts.Result, u quantity.System) error {
	r := &Report{w: w}
	r.Head(title)
	if len(found) == 0 {
		r.Say("No pivot, wheel or pendulum was measured yet: use evenbeat measure --plan pivot, bushing, wheel or pendulum.")
		return r.err
	}
	for _, f := range found {
		r.Printf("%s (%s): %s\n\n", f.What, f.Part, f.Verdict)
		wide := 0
		for _, x := range f.Figures {
			wide = max(wide, len(x.Name))
		}
		for _, x := range f.Figures {
			r.Printf("  %-*s  %s\n", wide, x.Name, x.Text(u))
		}
		r.List("Why", "-", f.Reasons)
		r.List("Mind", "!", f.Cautions)
		r.List("Next", "→", f.Next)
		r.Printf("\n")
	}
	r.interval()
	return r.err
}
