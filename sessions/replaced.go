package sessions

import (
	"fmt"
	"slices"
	"strings"
)

// mainspring is what a note calls the spring of a barrel, whose readings have one part.
const mainspring = "mainspring"

// ofSpring are the dimensions of a spring, without those of its barrel and arbor.
var ofSpring = []string{"strip", "height", "length", "inner", "coils", "free", "free-coils"}

// ReplacedText is the text of a note that says that a part was replaced, or of it what
// these dimensions tell of.
func ReplacedText(part string, dimensions []string) string {
	if len(dimensions) == 0 {
		return part
	}
	return part + ": " + strings.Join(dimensions, ", ")
}

// SetAside leaves out of every sum the readings of what was replaced after them. A note of
// the kind replaced begins with the name of the part, up to a comma or colon: "barrel" is
// all that was measured as barrel, "barrel: bore, depth" only that, and "mainspring" is
// the spring, where only one part has one, else "going barrel mainspring".
func SetAside(readings []Reading, events []Event) {
	for _, e := range events {
		if e.Kind != EventReplaced {
			continue
		}
		for _, i := range replaced(readings, e) {
			r := &readings[i]
			if r.State != Undone {
				r.State, r.Why, r.ReplacedBy = Undone, fmt.Sprintf("it was replaced (note %d)", e.ID), e.ID
			}
		}
	}
}

// seenWith names a dimension of the piece that a particular is of.
var seenWith = map[string]string{SpringEnd: "strip", Direction: "strip", Set: "strip", BarrelHook: "bore", Cover: "bore", ArborHook: "arbor"}

// replacedSince reports whether the piece that a particular is of was replaced after it. A
// new one's hooks have not been looked at.
func (r Record) replacedSince(p Particular) bool {
	all := append(slices.Clone(r.Readings), Reading{At: p.At, Part: p.Part, Dimension: seenWith[p.Name]})
	return slices.ContainsFunc(r.Events, func(e Event) bool {
		return e.Kind == EventReplaced && slices.Contains(replaced(all, e), len(r.Readings))
	})
}

// replaced returns which of the readings before a note are of what it names.
func replaced(readings []Reading, e Event) (which []int) {
	cut := strings.IndexAny(e.Text+",", ",:;")
	name := strings.ToLower(strings.TrimSpace(e.Text[:min(cut, len(e.Text))]))
	var dimensions []string
	if rest := e.Text[min(cut, len(e.Text)):]; strings.HasPrefix(rest, ":") {
		for word := range strings.SplitSeq(rest[1:], ",") {
			dimensions = append(dimensions, strings.TrimSpace(word))
		}
	}
	part, isSpring := strings.CutSuffix(name, mainspring)
	part = strings.TrimSpace(part)
	springs := map[string]bool{}
	for i, r := range readings {
		if !r.At.Before(e.At) || r.Dimension == ZeroDimension {
			continue
		}
		whose := strings.ToLower(r.Part)
		switch {
		case whose == name:
			which = append(which, i)
		case isSpring && (part == "" || part == whose) && slices.Contains(ofSpring, r.Dimension):
			springs[whose] = true
			which = append(which, i)
		}
	}
	if len(springs) > 1 {
		return nil
	}
	named := slices.DeleteFunc(slices.Clone(which), func(i int) bool { return !slices.Contains(dimensions, readings[i].Dimension) })
	if len(named) > 0 {
		return named
	}
	return which
}
