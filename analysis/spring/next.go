package spring

import "fmt"

// next says what to do: what is missing first, then what would settle a doubt, then
// what the verdict asks for.
func next(in Input, r Result) []string {
	var out []string
	for _, m := range []struct {
		missing bool
		what    string
	}{
		{in.Bore == nil, "Measure the bore of the barrel, three times, turning the caliper by 60°."},
		{in.Arbor == nil, "Measure the arbor where the coil seats, twice at right angles."},
		{in.Strip == nil && in.Inner == nil, "Measure the thickness of the strip, five times along it."},
		{in.Strip == nil && in.Inner != nil, "Measure the thickness of the strip, or count its coils, to get turns and hours too."},
		{in.Length == nil && in.Inner == nil && in.Coils == nil, "Measure the length of the strip; or, with the spring fully let down and left in its barrel, the inner diameter of the coil, or count its coils."},
	} {
		if m.missing {
			out = append(out, m.what)
		}
	}
	if r.Fill != nil {
		out = append(out, settle(in, r)...)
	}
	for _, w := range lengthPairs(in, r) {
		if !w.agree() {
			out = append(out, fmt.Sprintf("Find out which length is right, %s or %s, before a strip is ordered or fitted.", words(w.a.From), words(w.b.From)))
		}
	}
	if in.Fusee != nil && in.Chain == nil {
		out = append(out, "Count the turns that the chain takes round the barrel (--chain-turns), to know whether the spring has enough of them.")
	}
	out = append(out, byVerdict(in, r)...)
	if in.BarrelTurnHours == 0 && r.Turns != nil {
		out = append(out, "Enter the train with `evenbeat clock edit --train`, to get the running time.")
	}
	return out
}

// settle names the measurement that would turn "cannot tell" into a verdict.
func settle(in Input, r Result) []string {
	if byFill(in, r) != CannotTell {
		return nil
	}
	var out []string
	for _, b := range r.Budget {
		if b.Better != "" {
			out = append(out, fmt.Sprintf("To settle it, %s.", b.Better))
		}
	}
	for _, p := range r.InPlace {
		if p.From == r.LengthFrom {
			continue
		}
		if one := byFill(in, Result{Fill: &p.Fill}); one != CannotTell {
			out = append(out, fmt.Sprintf("By the length %s the verdict is: %s (%s filled). Measure that once more to be sure.", words(p.From), one, percent(p.Fill)))
		}
	}
	if len(out) == 0 {
		out = append(out, "The fill is so near a limit that no finer measurement settles it: take a strip whose ideal length is nearer.")
	}
	return out
}

// byVerdict says what each check of the whole spring asks for.
func byVerdict(in Input, r Result) []string {
	out := append(byLength(in, r), byHeight(in, r)...)
	if len(out) > 0 && r.Order != nil && r.Whole.Verdict == DoesNotFit {
		out = append(out, "To order: "+r.Order.Says+".")
	}
	switch {
	case in.Hook == Broken:
		out = append(out, "Make hook and hole good before the spring is wound again.")
	case in.Hook != Kept && r.Fill != nil && !stays(in, r):
		out = append(out, "Before fitting, "+r.Rules[len(r.Rules)-1].Says+".")
	}
	switch w := r.Whole; {
	case stays(in, r):
		out = append(out, "Leave the spring where it is: nothing found here asks for it to come out.")
	case w.Verdict == AllFits || w.Verdict == LengthFits && w.is("height") == Kept && w.is("arbor") == Kept:
		out = append(out, "Fit it with a winder, then wind it fully once, barrel closed and restrained, before it drives the train.")
	}
	return out
}

// stays reports whether the spring was measured in its barrel and needn't come out.
func stays(in Input, r Result) bool {
	return in.Length == nil && r.Whole.is("length") == Kept && r.Whole.Verdict != DoesNotFit
}

func byLength(in Input, r Result) []string {
	ideal := ""
	if r.IdealLength != nil {
		ideal = in.Units.Length(*r.IdealLength)
	}
	switch byFill(in, r) {
	case Short:
		return []string{"Order a strip nearer to the ideal length" + ofLength(ideal) + "."}
	case Long, DoesNotGo:
		return []string{"Order a strip nearer to the ideal length" + ofLength(ideal) + ", or have this one shortened to it by someone who can anneal and pierce a new end."}
	}
	return nil
}

func byHeight(in Input, r Result) []string {
	height, depth := "the height of the strip", "the inside depth of the barrel"
	switch held := r.Whole.is("height"); {
	case held == Broken:
		low, high := in.Depth.V-in.Limits.EndFloatHigh, in.Depth.V-in.Limits.EndFloatLow
		return []string{"Order a strip from " + in.Units.Size(max(0, low), 1) + " to " + in.Units.Size(high, 1) + " high."}
	case held == Unclear:
		return []string{"Measure " + height + " and " + depth + " more finely: by what is known, the clearance under the cover may be good or not."}
	case r.Fill == nil || held == Kept:
		return nil
	case in.Height != nil:
		return []string{"Measure " + depth + ", to know whether the strip is low enough."}
	case in.Depth == nil:
		height += " and " + depth
	}
	return []string{"Measure " + height + ", to know whether it goes under the cover, and to get torque and energy."}
}

func ofLength(ideal string) string {
	if ideal == "" {
		return ""
	}
	return ", " + ideal
}
