package render

import (
	"fmt"
	"io"

	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
)

// Stability writes the table of a series for a person: on one screen the overlapping
// deviation alone, or in full. Deviations in full have so many decimals: six for a
// series, as the handbook's tables have them, fewer for beats.
func Stability(w io.Writer, title string, f stability.Result, decimals int, full bool) error {
	if full {
		return stabilityFull(w, title, f, decimals)
	}
	const most = 12 // rows: what more there is, is thinned
	a := answer{title: title, says: steadiest(f), mark: "!", reasons: f.Warnings,
		heads: []string{"over", "deviation", "68 % interval", "noise"}, tableTitle: "Overlapping Allan deviation",
		last: "evenbeat stability --full shows the whole family."}
	every := (len(f.Rows) + most - 1) / most
	for i, x := range f.Rows {
		if i%every == 0 {
			a.rows = append(a.rows, []string{quantity.SpanText(x.TauS), number(x.OADev, 2), limits(x, 2), string(x.Noise)})
		}
	}
	return a.write(w)
}

func steadiest(f stability.Result) string {
	if best := stability.Steadiest(f.Rows); best != "" {
		return best + ". That is how much the mean rate over one such time differs from that over the next."
	}
	return "No averaging time gives a deviation that a clock could have."
}

// stabilityFull writes the whole table; a column that no row has is left out.
func stabilityFull(w io.Writer, title string, f stability.Result, decimals int) error {
	r := New(w)
	r.Head(title)
	var rows [][]string
	for _, x := range f.Rows {
		cells := []string{fmt.Sprintf("%.6g", x.TauS), fmt.Sprint(x.N)}
		for _, d := range []*float64{x.ADev, x.OADev, x.MDev, x.TDev, x.HDev, x.OHDev, x.TotDev} {
			cells = append(cells, number(d, decimals))
		}
		if x.TotDev == nil {
			cells[len(cells)-1] = ""
		}
		rows = append(rows, append(cells, limits(x, decimals-1), string(x.Noise)))
	}
	heads, rows := used([]string{"tau, s", "terms", "ADEV", "OADEV", "MDEV", "TDEV, s", "HDEV", "OHDEV", "TOTDEV", "OADEV, 68 %", "noise"}, rows)
	r.lines(table(1, heads, rows))
	r.List("What it means", "-", []string{steadiest(f)})
	r.List("Note", "!", f.Warnings)
	return r.err
}

// limits writes the 68 % interval of the overlapping deviation.
func limits(x stability.Row, decimals int) string {
	if x.Low == nil || x.High == nil {
		return "–"
	}
	return number(x.Low, decimals) + " to " + number(x.High, decimals)
}

// number writes a deviation as tables of the field print it; a dash where there
// are too few points.
func number(x *float64, decimals int) string {
	if x == nil {
		return "–"
	}
	return quantity.Minus(fmt.Sprintf("%.*e", decimals, *x))
}
