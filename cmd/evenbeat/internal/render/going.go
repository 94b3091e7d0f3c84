package render

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"evenbeat/analysis/going"
	"evenbeat/devices/quantity"
)

// WindingCaution is said wherever a winding is noted.
const WindingCaution = "Wind with the right key, fully but without force, and never let the key slip: a mainspring can injure."

// Going writes how a clock went over days and weeks for a person: on one screen, or
// in full.
func Going(w io.Writer, title string, f going.Result, zone *time.Location, full bool) error {
	if full {
		return goingFull(w, title, f, zone)
	}
	a := answer{title: title, figures: goingFigures(f, quantity.Value.Signed), mark: "!", reasons: f.Matters, next: f.Next,
		last: interval + " evenbeat going --full shows each day, and why."}
	if len(f.Reasons) > 0 {
		a.says = strings.TrimSpace(f.Reasons[0] + " " + f.Turned)
		a.reasons = slices.DeleteFunc(slices.Clone(f.Matters), func(m string) bool { return m == f.Reasons[0] })
	}
	for _, x := range f.Factors {
		if x.Significant {
			a.figures = append(a.figures, [2]string{"with " + x.Name, x.PerUnit.Signed("s/day per " + x.Unit)})
		}
	}
	if len(f.Segments) > 1 {
		a.tableTitle, a.heads = "Between the changes, the newest first", segmentHeads
		for i := range f.Segments {
			a.rows = append(a.rows, segmentRow(f.Segments[len(f.Segments)-1-i], zone, quantity.Value.Signed))
		}
	}
	return a.write(w)
}

// goingFigures are the figures of all the time.
func goingFigures(f going.Result, write writer) (rows [][2]string) {
	add := func(name string, v *quantity.Value, unit, more string) {
		if v != nil {
			rows = append(rows, [2]string{name, write(*v, unit) + more})
		}
	}
	if len(f.Segments) > 1 {
		add("rate now", f.RateNow, "s/day", "")
	}
	over := fmt.Sprintf("%.3g days", f.SpanDays)
	if f.SpanDays < 2 {
		over = quantity.SpanWords(f.SpanDays * 86400)
	}
	add("mean rate", f.MeanRate, "s/day", fmt.Sprintf(" over %s, %d %s", over, f.Checks, quantity.Plural(int64(f.Checks), "check", "checks")))
	dial := func(name string, v *quantity.Value, more string) {
		if v != nil {
			rows = append(rows, [2]string{name, v.DialText(write) + more})
		}
	}
	dial("error now", f.ErrorNow, " (+ is fast)")
	trend := ""
	if f.Trend != nil && f.Trend.Covers(0) {
		trend = " (no steady change)"
	}
	add("trend of the rate", f.Trend, "s/day per day", trend)
	dial("error in a week", f.Forecast, ", if nothing is touched")
	if f.Nut != nil {
		add("rating nut", &f.Nut.PerTurn, "s/day a turn", " (by its "+f.Nut.Source+")")
		add("turn it", f.Nut.Advice, "turns", " (+ is to gain)")
	}
	return rows
}

// goingFull writes all that is found of a clock's going.
func goingFull(w io.Writer, title string, f going.Result, zone *time.Location) error {
	r := New(w)
	r.Head(title)
	if len(f.Reasons) > 0 {
		r.Say(f.Reasons[0])
	}
	r.Printf("\n")
	if f.MeanRate == nil {
		r.Row("checks", fmt.Sprintf("%d over %.2f days", f.Checks, f.SpanDays))
	}
	for _, x := range goingFigures(f, quantity.Value.FullSigned) {
		r.Row(x[0], x[1])
	}
	var rows [][]string
	for _, d := range f.Daily {
		rows = append(rows, []string{moment(d.From, zone), moment(d.To, zone), d.Rate.FullSigned("s/day")})
	}
	r.columns("Day by day", []string{"from", "to", "rate"}, rows, nil)
	if len(f.Segments) > 1 {
		rows = nil
		for _, s := range f.Segments {
			rows = append(rows, segmentRow(s, zone, quantity.Value.FullSigned))
		}
		r.columns("Between the changes", segmentHeads, rows, nil)
	}
	rows = nil
	for _, x := range f.Factors {
		found := "not established"
		if x.Significant {
			found = "established"
		}
		rows = append(rows, []string{x.Name, x.PerUnit.FullSigned("s/day per " + x.Unit), found})
	}
	r.columns("What goes with the rate", []string{"factor", "effect", ""}, rows, nil)
	var nut []string
	for _, x := range f.Advice {
		nut = append(nut, x.Says)
	}
	r.List("What was done to the nut, and what is advised", "-", nut)
	r.List("Why", "-", slices.DeleteFunc(slices.Clone(f.Reasons), func(why string) bool { return why == f.Turned }))
	r.List("Next", "→", f.Next)
	r.Printf("\n%s\n", interval)
	return r.err
}

var segmentHeads = []string{"from", "to", "rate", "after"}

func segmentRow(s going.Segment, zone *time.Location, write writer) []string {
	return []string{moment(s.From, zone), moment(s.To, zone), write(s.Rate, "s/day"), s.After}
}

func moment(t time.Time, zone *time.Location) string { return t.In(zone).Format("2 Jan 15:04") }
