package render

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/devices/quantity"
)

// OneOfAll is a clock's line among those of all clocks: its figures, or why there are none.
type OneOfAll struct {
	Clock   string
	Figures []string
	Why     string
}

const cannotTell = "cannot tell"

// GoingHeads are the headings of what GoingOfOne returns.
func GoingHeads() []string { return []string{"error now", "rate, s/day", "since", "checks"} }

// GoingOfOne is the line of how a clock went.
func GoingOfOne(clock string, f going.Result, zone *time.Location) OneOfAll {
	switch {
	case f.Checks == 0:
		return OneOfAll{Clock: clock, Why: "no check of the dial yet"}
	case f.ErrorNow == nil:
		return OneOfAll{Clock: clock, Why: strings.Join(f.Reasons[:min(1, len(f.Reasons))], "")}
	}
	rate, since, now := cannotTell, "", f.RateNow
	if len(f.Segments) < 2 {
		now = f.MeanRate
	}
	if now != nil {
		rate = now.Signed("s/day")
		if n := len(f.Segments); n > 0 {
			since = f.Segments[n-1].From.In(zone).Format("2 Jan 2006")
		}
	}
	return OneOfAll{Clock: clock, Figures: []string{f.ErrorNow.DialText(quantity.Value.Signed), strings.TrimSuffix(rate, " s/day"), since, fmt.Sprint(f.Checks)}}
}

// RateHeads are the headings of what RateOfOne returns.
func RateHeads() []string { return []string{"rate, s/day", "beat error", "listened", "begun"} }

// RateOfOne is the line of how a clock beats, in a session that began at begun.
func RateOfOne(clock string, f beat.Result, begun time.Time, zone *time.Location) OneOfAll {
	return OneOfAll{Clock: clock, Figures: []string{strings.TrimSuffix(f.Rate.Signed("s/day"), " s/day"), beat.InMs(f.BeatError, quantity.Value.Text),
		quantity.SpanWords(f.DurationS), begun.In(zone).Format("2 Jan 2006")}}
}

// All writes a line for each clock: on one screen as many as it holds, or all in full.
func All(w io.Writer, title string, heads []string, clocks []OneOfAll, last string, full bool) error {
	const besides = 5 // lines: title, headings, last, and the blanks between
	left := 0
	if most := screenLines - besides; !full && len(clocks) > most {
		left = len(clocks) - most + 1
		clocks = clocks[:most-1]
	}
	const widest = 24 // of a clock's name
	var rows [][]string
	width := 0
	for _, c := range clocks {
		width = max(width, min(widest, utf8.RuneCountInString(c.Clock)))
		if c.Why == "" {
			rows = append(rows, c.Figures)
		}
	}
	lines := table(2, heads, rows)
	r := New(w)
	r.Printf("%s\n\n", title)
	if len(rows) > 0 {
		r.Printf("  %-*s%s\n", width, "", lines[0])
	}
	for _, c := range clocks {
		figures := "  " + cannotTell + ": " + c.Why
		if c.Why == "" {
			figures, lines = lines[1], lines[1:]
		}
		line := fmt.Sprintf("  %-*s%s", width, clip(c.Clock, widest), figures)
		if !full {
			line = clip(line, Width)
		}
		r.Printf("%s\n", line)
	}
	if left > 0 {
		r.Printf("  and %d more: --full lists all\n", left)
	}
	r.Printf("\n%s\n", last)
	return r.Err()
}
