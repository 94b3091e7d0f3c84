package render

import (
	"fmt"
	"io"
	"time"

	"evenbeat/analysis/going"
)

// Going writes how a clock went over days and weeks for a person.
func Going(w io.Writer, title string, f going.Result, zone *time.Location) error {
	r := &Report{w: w}
	r.Head(title)
	r.Row("checks", fmt.Sprintf("%d over %.2f days", f.Checks, f.SpanDays))
	if f.ErrorNow != nil {
		r.Row("error now", f.ErrorNow.FullSigned("s")+" (plus = fast)")
	}
	if f.MeanRate != nil {
		r.Row("mean rate", f.MeanRate.FullSigned("s/day")+" (end to end)")
	}
	if f.Trend != nil {
		r.Row("trend of the rate", f.Trend.FullSigned("s/day per day"))
	}
	if f.Forecast != nil {
		r.Row("error in a week", f.Forecast.FullSigned("s, if nothing is touched"))
	}
	if len(f.Daily) > 0 {
		r.Printf("\nDay by day\n")
		for _, d := range f.Daily {
			r.Printf("  %s to %s   %s\n", d.From.In(zone).Format("2 Jan 15:04"), d.To.In(zone).Format("2 Jan 15:04"),
				d.Rate.FullSigned("s/day"))
		}
	}
	if len(f.Segments) > 1 {
		r.Printf("\nBetween the acts\n")
		for _, s := range f.Segments {
			after := ""
			if s.After != "" {
				after = "   after: " + s.After
			}
			r.Printf("  %s to %s   %s%s\n", s.From.In(zone).Format("2 Jan 15:04"), s.To.In(zone).Format("2 Jan 15:04"),
				s.Rate.FullSigned("s/day"), after)
		}
	}
	if len(f.Factors) > 0 {
		r.Printf("\nWhat goes with the rate\n")
		for _, x := range f.Factors {
			mark := "not established"
			if x.Significant {
				mark = "established"
			}
			r.Printf("  %-20s %s   %s\n", x.Name, x.PerUnit.FullSigned("s/day per "+x.Unit), mark)
		}
	}
	if f.Nut != nil {
		r.Printf("\n")
		r.Row("rating nut", fmt.Sprintf("%s a turn (by its %s)", f.Nut.PerTurn.FullSigned("s/day"), f.Nut.Source))
		if f.Nut.Advice != nil {
			r.Row("turn it", f.Nut.Advice.FullSigned("turns (plus = to gain)"))
		}
	}
	r.List("Why", "-", f.Reasons)
	r.List("Next", "→", f.Next)
	r.interval()
	return r.err
}
