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
		{in.Bore == nil, "Measure the bore of the barrel, three times at 60° to one another."},
		{in.Arbor == nil, "Measure the arbor where the coil seats, twice at 90°."},
		{in.Strip == nil && in.Inner == nil, "Measure the thickness of the strip, five times along it."},
		{in.Strip == nil && in.Inner != nil, "Measure the thickness of the strip to know turns and hours as well."},
		{in.Length == nil && in.Inner == nil && in.Coils == nil, "Measure the length of the strip; or, with the spring fully let down and left hooked in its barrel, the inner diameter of its coil, or the number of coils."},
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
		out = append(out, "Measure the height of the strip to know torque and energy.")
	}
	if in.BarrelTurnHours == 0 && r.Turns != nil {
		out = append(out, "Give the train of the clock to know for how many hours it goes.")
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
			out = append(out, fmt.Sprintf("The length %s says: %s, %s full. Measure it again there to be sure.", words(p.From), one, percent(p.Fill)))
		}
	}
	if len(out) == 0 {
		out = append(out, "The fill lies so near a limit that no finer measurement settles it: take the strip whose best length is nearest, see the band of strips that fit.")
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
		return []string{"Fit it with a winder, and wind it fully once with the barrel closed and restrained before it drives the train."}
	case Short:
		return []string{"Order a strip nearer to " + orWords(ideal) + "."}
	case Long, DoesNotGo:
		if tooHigh(r) {
			return []string{"Order a strip that is lower than the barrel is deep inside."}
		}
		return []string{"Order a strip nearer to " + orWords(ideal) + ", or have this one shortened to it and a new end made by someone who can anneal and pierce it."}
	}
	return nil
}

func orWords(ideal string) string {
	if ideal == "" {
		return "half the space"
	}
	return ideal
}
