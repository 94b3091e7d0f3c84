package render

import (
	"fmt"
	"io"
	"strings"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// verdictWords says each verdict as a clockmaker would.
var verdictWords = map[spring.Verdict]string{
	spring.Fits:       "The spring fits this barrel.",
	spring.Short:      "The spring is short for this barrel.",
	spring.Long:       "The spring is long for this barrel.",
	spring.DoesNotGo:  "The spring does not go into this barrel.",
	spring.CannotTell: "Cannot tell yet whether the spring fits.",
}

// Spring writes the findings on a spring for a person.
func Spring(w io.Writer, title string, f spring.Result, u quantity.System) error {
	r := &Report{w: w}
	r.Head(title)
	r.Say(verdictWords[f.Verdict])
	r.Printf("\n")
	r.length("bore", f.Bore, u)
	r.length("arbor", f.Arbor, u)
	r.length("strip thickness", f.Strip, u)
	r.length("strip height", f.Height, u)
	r.length("inside depth", f.Depth, u)
	r.length("strip length", f.Length, u)
	r.length("run-down coil, inside", f.Inner, u)
	r.value("coils, counted", f.Coils, "")
	if f.HalfArea != nil {
		r.Row("half the space", area(*f.HalfArea, u))
	}
	r.length("ideal length", f.IdealLength, u)
	r.value("fill (half = 0.5)", f.Fill, "")
	r.length("coil wound, outside", f.Wound, u)
	r.length("coil run down, inside", f.Rundown, u)
	r.value("coils, wound", f.CoilsWound, "")
	r.value("coils, run down", f.CoilsRundown, "")
	r.value("turns", f.Turns, "")
	r.value("turns at best", f.TurnsBest, "")
	if f.TurnsLost != nil {
		r.Row("turns lost", fmt.Sprintf("%.1f %%, at most %.1f %%", 100*f.TurnsLost.V, 100*min(1, f.TurnsLost.High95())))
	}
	r.value("going, wound to stop", f.GoingHours, "h")
	r.value("torque, fully wound", f.TorqueFull, "N·m (estimate)")
	r.value("torque, end of run", f.TorqueEnd, "N·m (estimate)")
	r.value("energy, fully wound", f.Energy, "J (estimate)")
	if f.Stress != nil {
		r.Row("bending stress", f.Stress.Scale(1e-6).Full("MPa (nominal, no verdict)"))
	}
	r.List("Why", "-", f.Reasons)
	r.verbatim("On paper", f.Working)
	r.budget(f.Budget)
	r.inPlace(f.InPlace, u)
	r.runs(f.Runs)
	r.rules(f.Rules, u)
	r.stock(f.Stock, u)
	r.band(f.Band, u)
	r.List("Before you touch a spring", "!", f.Cautions)
	r.List("Next", "→", f.Next)
	r.interval()
	return r.err
}

func area(v quantity.Value, u quantity.System) string {
	mm2 := v.Scale(1e6).Full("mm²")
	in2 := v.Scale(1 / (quantity.Inch.Metres() * quantity.Inch.Metres())).Full("in²")
	switch u {
	case quantity.Imperial:
		return in2
	case quantity.Both:
		return mm2 + " (" + in2 + ")"
	}
	return mm2
}

func (r *Report) budget(lines []spring.BudgetLine) {
	if len(lines) == 0 {
		return
	}
	r.Printf("\nWhat blurs the answer\n")
	for _, b := range lines {
		r.Printf("  %-8s %5.1f %%", b.Input, b.Share*100)
		for i, line := range wrap(b.Better, Width-20) {
			lead := "  "
			if i > 0 {
				lead = strings.Repeat(" ", 20)
			}
			r.Printf("%s\n", strings.TrimRight(lead+line, " "))
		}
	}
}
