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
		{in.Strip == nil && in.Inner != nil, "Measure the thickness of the strip to get turns and hours too."},
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
	out = append(out, byVerdict(in, r)...)
	if r.Height == nil && r.Fill != nil {
		out = append(out, "Measure the height of the strip to get torque and energy.")
	}
	if in.BarrelTurnHours == 0 && r.Turns != nil {
		out = append(out, "Enter the train to get the running time: evenbeat clock edit --train.")
	}
	if r.Fill != nil {
		out = append(out, "Before fitting, "+r.Rules[len(r.Rules)-1].Says+".")
	}
	return out
}

// settle names the measurement that would turn "cannot tell" into a verdict.
func settle(in Input, r Result) []string {
	if r.Verdict != CannotTell {
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
		if one := verdict(in, Result{Fill: &p.Fill}); one != CannotTell {
			out = append(out, fmt.Sprintf("By the length %s the verdict is: %s (%s filled). Measure that once more to be sure.", words(p.From), one, percent(p.Fill)))
		}
	}
	if len(out) == 0 {
		out = append(out, "The fill is so near a limit that no finer measurement settles it: take a strip whose ideal length is nearer.")
	}
	return out
}

func byVerdict(in Input, r Result) []string {
	ideal := ""
	if r.IdealLength != nil {
		ideal = in.Units.Length(*r.IdealLength)
	}
	switch r.Verdict {
	case Fits:
		return []string{"Fit it with a winder, then wind it fully once, barrel closed and restrained, before it drives the train."}
	case Short:
		return []string{"Order a strip nearer to the ideal length" + ofLength(ideal) + "."}
	case Long, DoesNotGo:
		if tooHigh(r) {
			return []string{"Order a strip that is lower than the inside of the barrel is deep."}
		}
		return []string{"Order a strip nearer to the ideal length" + ofLength(ideal) + ", or have this one shortened to it by someone who can anneal and pierce a new end."}
	}
	return nil
}

func ofLength(ideal string) string {
	if ideal == "" {
		return ""
	}
	return ", " + ideal
}
