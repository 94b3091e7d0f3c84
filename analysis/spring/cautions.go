package spring

import "fmt"

// cautions go with every answer about a spring, whatever the verdict. Common
// practice, no source.
func cautions(in Input, r Result) []string {
	energy := "A mainspring holds energy even when the clock has stopped. Let it down fully, with a let-down key and the click under control, before the barrel is opened."
	if r.Energy != nil {
		much := fmt.Sprintf("about %.2g J", r.Energy.V)
		if r.Energy.Bound == AtLeast {
			much = fmt.Sprintf("at least %.2g J, perhaps twice that", r.Energy.V)
		}
		energy = fmt.Sprintf("Fully wound, this spring holds %s. Let it down fully, with a let-down key and the click under control, before the barrel is opened.", much)
	}
	if in.SetUp != nil || in.Stop != nil || in.Fusee != nil {
		energy += " Its set-up stays when the clock has run down: let that off too before stopwork or chain comes off."
	}
	return []string{
		energy,
		"Wear face protection and gloves that can't catch: a flying strip cuts.",
		"Take the spring out and put it in with a proper winder and a restraint, never by hand alone.",
		"Keep everyone, yourself too, out of the line of release while it is loaded.",
		"Local rules and trained practice come first. If you haven't been shown how, have it done by someone who has.",
	}
}
