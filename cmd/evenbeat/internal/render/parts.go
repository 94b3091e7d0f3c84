package render

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"unicode/utf8"

	"evenbeat/analysis/parts"
	"evenbeat/devices/quantity"
)

// Fits writes how the parts of a clock fit for a person: in full where that is asked
// for or one screen holds it, else a line a part.
func Fits(w io.Writer, title string, found []parts.Result, u quantity.System, full bool) error {
	var all bytes.Buffer
	if err := fitsFull(&all, title, found, u); err != nil {
		return err
	}
	if full || bytes.Count(all.Bytes(), []byte("\n")) <= screenLines {
		_, err := w.Write(all.Bytes())
		return err
	}
	a := answer{title: title, mark: "-", heads: []string{"part", "verdict"}, before: "Safety", last: interval + " evenbeat fit --full shows the figures."}
	wanting := 0
	for _, verdict := range []parts.Verdict{parts.Bad, parts.CannotTell, parts.Good} {
		for _, f := range found {
			if f.Verdict != verdict {
				continue
			}
			a.rows = append(a.rows, []string{clip(fmt.Sprintf("%s (%s)", f.What, f.Part), 60), string(f.Verdict)})
			a.next = append(a.next, f.Next...)
			if verdict != parts.Good {
				wanting++
				a.reasons = append(a.reasons, f.Matters...)
			}
			for _, c := range f.Cautions {
				if !slices.Contains(a.cautions, c) {
					a.cautions = append(a.cautions, c)
				}
			}
		}
	}
	good := len(found) - wanting
	a.says = fmt.Sprintf("%d of %d %s good.", good, len(found), quantity.Plural(int64(good), "is", "are"))
	return a.write(w)
}

// fitsFull writes all that is found of the parts.
func fitsFull(w io.Writer, title string, found []parts.Result, u quantity.System) error {
	r := New(w)
	r.Head(title)
	if len(found) == 0 {
		r.Say("No pivot, wheel or pendulum has been measured yet: use evenbeat measure --plan pivot, bushing, wheel or pendulum.")
		return r.err
	}
	for _, f := range found {
		r.Printf("%s (%s): %s\n\n", f.What, f.Part, f.Verdict)
		wide := 0
		for _, x := range f.Figures {
			wide = max(wide, utf8.RuneCountInString(x.Label()))
		}
		for _, x := range f.Figures {
			r.lines(row(x.Label(), wide+1, x.Text(u)))
		}
		r.List("Why", "-", f.Reasons)
		r.List("Safety", "!", f.Cautions)
		r.List("Next", "→", f.Next)
		r.Printf("\n")
	}
	r.Printf("%s\n", interval)
	return r.err
}
