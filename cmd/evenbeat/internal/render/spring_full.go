package render

import (
	"fmt"
	"io"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// springFull writes all that is found of a spring.
func springFull(w io.Writer, title string, f spring.Result, u quantity.System) error {
	r := New(w)
	r.Head(title)
	r.Say(f.Whole.Says + ".")
	r.Printf("\n")
	r.springSizes(f, u)
	r.List("Why", "-", f.Reasons)
	r.working(f.Working)
	r.budget(f.Budget)
	r.inPlace(f.InPlace, u)
	r.columns(runsTitle, runHeads, runRows(f.Runs, quantity.Value.FullSigned), nil)
	r.rules(f.Rules, u)
	r.stock(f.Stock, u)
	r.band(f.Band, u)
	if f.Order != nil {
		r.List("To order", "·", []string{f.Order.Says + "."})
	}
	r.List(beforeSpring, "!", f.Cautions)
	r.List("Next", "→", f.Next)
	r.Printf("\n%s\n", interval)
	return r.err
}

func (r *Report) springSizes(f spring.Result, u quantity.System) {
	r.length("bore", f.Bore, u)
	r.length("arbor", f.Arbor, u)
	r.length("strip thickness", f.Strip, u)
	r.length("strip height", f.Height, u)
	r.length("inside depth", f.Depth, u)
	r.length("strip length", f.Length, u)
	r.length("run-down coil, measured", f.Inner, u)
	r.value("coils, counted", f.Coils, "")
	if f.HalfArea != nil {
		r.Row("half of the space", area(*f.HalfArea, u))
	}
	r.length("ideal length", f.IdealLength, u)
	r.value("fill (ideal: 0.5)", f.Fill, "")
	r.length("wound coil, outside", f.Wound, u)
	r.length("run-down coil, inside", f.Rundown, u)
	r.value("coils when wound", f.CoilsWound, "")
	r.value("coils when run down", f.CoilsRundown, "")
	r.value("turns", f.Turns, "")
	r.value("most turns possible", f.TurnsBest, "")
	if f.TurnsLost != nil {
		r.Row("turns lost", fmt.Sprintf("%.1f %%, at most %.1f %%", 100*f.TurnsLost.V, 100*min(1, f.TurnsLost.High95())))
	}
	r.estimate("goes on one winding", f.GoingHours, "h")
	r.estimate("torque, fully wound", f.TorqueFull, "N·m (estimate)")
	r.estimate("torque, end of run", f.TorqueEnd, "N·m (estimate)")
	r.estimate("energy, fully wound", f.Energy, "J (estimate)")
	if f.Stress != nil {
		r.Row("bending stress", f.Stress.Scale(1e-6).Full("MPa (nominal, no verdict)"))
	}
}

// estimate writes a row for an estimate with all its digits, if it is there.
func (r *Report) estimate(name string, e *spring.Estimate, unit string) {
	if e != nil {
		r.Row(name, e.Full(unit))
	}
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

// working writes the sum line by line, as on paper.
func (r *Report) working(lines []string) {
	if len(lines) == 0 {
		return
	}
	r.Printf("\nOn paper\n")
	for _, l := range lines {
		for i, part := range wrap(l, Width-6) {
			lead := "    "
			if i > 0 {
				lead = "      "
			}
			r.Printf("%s%s\n", lead, part)
		}
	}
}

func (r *Report) budget(lines []spring.BudgetLine) {
	if len(lines) == 0 {
		return
	}
	r.Printf("\nWhere the uncertainty comes from\n")
	wide := 8
	for _, b := range lines {
		wide = max(wide, len(b.Input))
	}
	for _, b := range lines {
		r.lines(item(fmt.Sprintf("  %-*s %5.1f %%  ", wide, b.Input, b.Share*100), b.Better))
	}
}
