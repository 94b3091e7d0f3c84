package render

import (
	"fmt"
	"io"
	"slices"

	"evenbeat/analysis/stability"
)

// Stability writes the table for a person; a column that no row has is left out.
// Deviations have so many decimals: six for a series, as the handbook's tables have
// them, fewer for beats, so that the table is no wider than it must be.
func Stability(w io.Writer, title string, f stability.Result, decimals int) error {
	r := &Report{w: w}
	r.Head(title)
	total := slices.ContainsFunc(f.Rows, func(x stability.Row) bool { return x.TotDev != nil })
	line := func(tau, terms string, devs []string, limits, noise string) {
		if !total {
			devs = devs[:len(devs)-1]
		}
		r.Printf("%9s %8s", tau, terms)
		for _, d := range devs {
			r.Printf(" %-*s", decimals+6, d)
		}
		r.Printf(" %-*s %s\n", 2*decimals+14, limits, noise)
	}
	line("tau, s", "terms", []string{"ADEV", "OADEV", "MDEV", "TDEV, s", "HDEV", "OHDEV", "TOTDEV"}, "OADEV, 68 %", "noise")
	for _, x := range f.Rows {
		limits := ""
		if x.Low != nil && x.High != nil {
			limits = fmt.Sprintf("%.*e to %.*e", decimals-1, *x.Low, decimals-1, *x.High)
		}
		var devs []string
		for _, d := range []*float64{x.ADev, x.OADev, x.MDev, x.TDev, x.HDev, x.OHDev, x.TotDev} {
			devs = append(devs, number(d, decimals))
		}
		line(fmt.Sprintf("%.6g", x.TauS), fmt.Sprint(x.N), devs, limits, string(x.Noise))
	}
	if best := stability.Steadiest(f.Rows); best != "" {
		r.List("What it means", "-", []string{best + ": so far does the mean rate over one such time lie from that over the next."})
	}
	r.List("Heed", "!", f.Warnings)
	return r.err
}

// number writes a deviation as tables of the field print it; a dash where there
// are too few points.
func number(x *float64, decimals int) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprintf("%.*e", decimals, *x)
}
