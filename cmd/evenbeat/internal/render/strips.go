package render

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// columns writes rows under a title and a line of headings, each column as wide as
// its widest cell, so that both systems of units still line up. Below a row stands
// what notes has for it, wrapped; notes may be nil.
func (r *Report) columns(title string, heads []string, rows [][]string, notes []string) {
	if len(rows) == 0 {
		return
	}
	wide := make([]int, len(heads))
	for _, row := range append([][]string{heads}, rows...) {
		for i, cell := range row {
			wide[i] = max(wide[i], utf8.RuneCountInString(cell))
		}
	}
	line := func(row []string) {
		var b strings.Builder
		for i, cell := range row {
			b.WriteString("  " + cell + strings.Repeat(" ", wide[i]-utf8.RuneCountInString(cell)))
		}
		r.Printf("%s\n", strings.TrimRight(b.String(), " "))
	}
	r.Printf("\n%s\n", title)
	line(heads)
	for i, row := range rows {
		line(row)
		if i < len(notes) && notes[i] != "" {
			r.Items("    ", "", []string{notes[i]})
		}
	}
}

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

// runs tells of the usual runs how much winding each takes and leaves.
func (r *Report) runs(runs []spring.Run) {
	var rows [][]string
	for _, x := range runs {
		rows = append(rows, []string{fmt.Sprintf("%g", x.Days), fmt.Sprintf("%.4g", x.Turns), x.Reserve.FullSigned("")})
	}
	r.columns("How long it goes (- lacks turns)", []string{"days", "takes turns", "turns to spare"}, rows, nil)
}

// rules lists the rules of the trade, each with its margin to the nearer limit.
func (r *Report) rules(rules []spring.Rule, u quantity.System) {
	var rows [][]string
	var notes []string
	for _, x := range rules {
		rows = append(rows, []string{x.Name, string(x.Held), x.MarginText(u)})
		notes = append(notes, x.Says+" ("+x.Source+")")
	}
	r.columns("Rules of the trade (margin to the nearer limit, - beyond it)", []string{"rule", "held", "margin"}, rows, notes)
}

// stock lists the strips of a stock list, ranked.
func (r *Report) stock(lines []spring.StockLine, u quantity.System) {
	var rows [][]string
	var notes []string
	for _, s := range lines {
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
		rows, notes = append(rows, row), append(notes, s.Why)
	}
	r.columns("From stock, best first (strength against the spring that came out)",
		[]string{"name", "thickness", "height", "length", "turns", "fill", "strength", "hours", "left", "verdict"}, rows, notes)
}

// band lists the thicknesses and lengths that would fit the barrel.
func (r *Report) band(band []spring.Band, u quantity.System) {
	title := "What would fit this barrel (strength at the best length, against this spring)"
	head := []string{"thickness", "length from", "best", "to", "turns at best", "strength"}
	var rows [][]string
	for _, x := range band {
		row := []string{u.Size(x.Thickness, 3), u.Size(x.LengthLow, 0), u.Size(x.LengthIdeal, 0), u.Size(x.LengthHigh, 0), fmt.Sprintf("%.2f", x.TurnsBest), ""}
		if x.StrengthRatio > 0 {
			row[5] = fmt.Sprintf("%.2f×", x.StrengthRatio)
		}
		rows = append(rows, row)
	}
	if len(band) > 0 && band[0].StrengthRatio == 0 {
		for i := range rows {
			rows[i] = rows[i][:5]
		}
		title, head = "What would fit this barrel", head[:5]
	}
	r.columns(title, head, rows, nil)
}
