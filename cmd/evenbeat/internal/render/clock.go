package render

import (
	"fmt"
	"io"
	"strconv"
	"time"

	"evenbeat/analysis"
	"evenbeat/devices/quantity"
)

// Clock writes what the book knows of a clock and what follows from it for a person.
func Clock(w io.Writer, f analysis.ClockFindings, u quantity.System, zone *time.Location) error {
	r := &Report{w: w}
	r.Head(f.Name)
	if f.Train != "" {
		r.Row("train", f.Train)
	}
	if f.BeatsPerHour > 0 {
		r.Row("beats per hour", fmt.Sprintf("%s, one every %.6g s", Number(f.BeatsPerHour), f.IntervalS))
	}
	if f.BarrelTurnHours > 0 {
		r.Row("barrel turns in", fmt.Sprintf("%.6g h", f.BarrelTurnHours))
	}
	for _, x := range f.Arbors {
		r.Row(fmt.Sprintf("arbor %d, %s", x.Arbor, x.Name), fmt.Sprintf("turns in %.6g s", x.PeriodS))
	}
	r.length("pendulum asked for", f.PendulumLength, u)
	if f.RodPerKelvin != nil {
		r.Row("rod", f.RodPerKelvin.FullSigned("s/day per K"))
	}
	if f.NutPerTurn != nil {
		r.Row("rating nut", f.NutPerTurn.FullSigned("s/day a turn"))
	}
	if f.LastWound != nil {
		r.Row("last wound", f.LastWound.In(zone).Format("2 Jan 2006 15:04"))
	}
	if f.WindBy != nil {
		r.Row("wind by", f.WindBy.In(zone).Format("2 Jan 2006 15:04"))
	}
	r.List("Why", "-", f.Reasons)
	return r.err
}

// Number writes a plain number, and a question mark for one that is not known.
func Number(x float64) string {
	if x == 0 {
		return "?"
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}
