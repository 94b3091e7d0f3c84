package render

import (
	"fmt"
	"strconv"
	"strings"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// inPlace sets the lengths by the different ways to them side by side.
func (r *Report) inPlace(ways []spring.InPlace, u quantity.System) {
	if len(ways) < 2 {
		return
	}
	names := map[spring.LengthFrom]string{spring.FromLength: "measured", spring.FromInner: "inner diameter", spring.FromCoils: "count of coils"}
	var rows [][]string
	for _, w := range ways {
		rows = append(rows, []string{names[w.From], u.FullLength(w.Length), w.Fill.Full("")})
	}
	r.columns("The length, by each way to it", []string{"by", "length", "fill"}, rows, nil)
}

const runsTitle = "How long it goes (− is turns short)"

var runHeads = []string{"days", "takes turns", "turns to spare"}

// runRows tell of the usual runs how much winding each takes and leaves.
func runRows(runs []spring.Run, write writer) (rows [][]string) {
	for _, x := range runs {
		rows = append(rows, []string{fmt.Sprintf("%g", x.Days), fmt.Sprintf("%.4g", x.Turns), strings.TrimSuffix(write(x.Reserve, "turns"), " turns")})
	}
	return rows
}

// rules lists the rules of the trade, each with the room to its nearer limit.
func (r *Report) rules(rules []spring.Rule, u quantity.System) {
	var rows [][]string
	var notes []string
	for _, x := range rules {
		rows = append(rows, []string{x.Title(), x.Held.Words(), x.MarginText(u)})
		notes = append(notes, x.Says+" ("+x.Source+")")
	}
	r.columns("Rules of the trade (− is beyond the limit)", []string{"rule", "", "room to the limit"}, rows, notes)
}

// stockHeads are the columns of a stock list; stockRow fills them.
var stockHeads = []string{"name", "thickness", "height", "length", "turns", "fill", "strength", "hours", "left", "verdict"}

func stockRow(s spring.StockLine, u quantity.System) []string {
	row := []string{s.Name, u.Size(s.Thickness, 3), "", "", fmt.Sprintf("%.2f", s.Turns), fmt.Sprintf("%.3f", s.Fill), "", "", "", string(s.Verdict)}
	if s.Height > 0 {
		row[2] = u.Size(s.Height, 1)
	}
	if s.Length > 0 {
		row[3] = u.Size(s.Length, 0)
	}
	if s.StrengthRatio > 0 {
		row[6] = fmt.Sprintf("%.2f×", s.StrengthRatio)
	}
	if s.GoingHours > 0 {
		row[7] = fmt.Sprintf("%.3g", s.GoingHours)
	}
	if s.Quantity != nil {
		row[8] = strconv.FormatInt(*s.Quantity, 10)
	}
	return row
}

// stock lists the strips of a stock list, ranked.
func (r *Report) stock(lines []spring.StockLine, u quantity.System) {
	var rows [][]string
	var notes []string
	for _, s := range lines {
		rows, notes = append(rows, stockRow(s, u)), append(notes, s.Why)
	}
	heads, rows := used(stockHeads, rows)
	r.columns("From stock, best first (strength against the spring that came out)", heads, rows, notes)
}

// band lists the thicknesses and lengths that would fit the barrel.
func (r *Report) band(band []spring.Band, u quantity.System) {
	var rows [][]string
	strength := ""
	for _, x := range band {
		row := []string{u.Size(x.Thickness, 3), u.Size(x.LengthLow, 0), u.Size(x.LengthIdeal, 0), u.Size(x.LengthHigh, 0), fmt.Sprintf("%.2f", x.TurnsBest), ""}
		if x.StrengthRatio > 0 {
			strength = " (strength at the ideal length, against this spring)"
			row[5] = fmt.Sprintf("%.2f×", x.StrengthRatio)
		}
		rows = append(rows, row)
	}
	heads, rows := used([]string{"thickness", "length from", "ideal", "to", "most turns", "strength"}, rows)
	r.columns("What would fit this barrel"+strength, heads, rows, nil)
}
