package main

import (
	"fmt"
	"io"
	"time"

	"evenbeat/analysis/going"
)

// writeGoing writes how a clock went over days and weeks for a person.
func writeGoing(w io.Writer, title string, f going.Result, zone *time.Location) error {
	r := &report{w: w}
	r.head(title)
	r.row("checks", fmt.Sprintf("%d over %.2f days", f.Checks, f.SpanDays))
	if f.ErrorNow != nil {
		r.row("error now", f.ErrorNow.Signed("s")+" (plus = fast)")
	}
	if f.MeanRate != nil {
		r.row("mean rate", f.MeanRate.Signed("s/day")+" (end to end)")
	}
	if f.Trend != nil {
		r.row("trend of the rate", f.Trend.Signed("s/day per day"))
	}
	if f.Forecast != nil {
		r.row("error in a week", f.Forecast.Signed("s, if nothing is touched"))
	}
	if len(f.Daily) > 0 {
		r.printf("\nDay by day\n")
		for _, d := range f.Daily {
			r.printf("  %s to %s   %s\n", d.From.In(zone).Format("2 Jan 15:04"), d.To.In(zone).Format("2 Jan 15:04"),
				d.Rate.Signed("s/day"))
		}
	}
	if len(f.Segments) > 1 {
		r.printf("\nBetween the acts\n")
		for _, s := range f.Segments {
			after := ""
			if s.After != "" {
				after = "   after: " + s.After
			}
			r.printf("  %s to %s   %s%s\n", s.From.In(zone).Format("2 Jan 15:04"), s.To.In(zone).Format("2 Jan 15:04"),
				s.Rate.Signed("s/day"), after)
		}
	}
	if len(f.Factors) > 0 {
		r.printf("\nWhat goes with the rate\n")
		for _, x := range f.Factors {
			mark := "not established"
			if x.Significant {
				mark = "established"
			}
			r.printf("  %-20s %s   %s\n", x.Name, x.PerUnit.Signed("s/day per "+x.Unit), mark)
		}
	}
	if f.Nut != nil {
		r.printf("\n")
		r.row("rating nut", fmt.Sprintf("%s a turn (by its %s)", f.Nut.PerTurn.Signed("s/day"), f.Nut.Source))
		if f.Nut.Advice != nil {
			r.row("turn it", f.Nut.Advice.Signed("turns (plus = to gain)"))
		}
	}
	r.list("Why", "-", f.Reasons)
	r.list("Next", "→", f.Next)
	r.interval()
	return r.err
}
