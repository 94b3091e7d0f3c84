package plots

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

//go:embed sheet.html
var sheetFiles embed.FS

//go:embed sheet.css
var sheetStyle string

// SheetStyle returns what stands in the sheet's style element, for a page that lets in
// no other style. No element of the sheet has a style of its own.
func SheetStyle() string { return sheetStyle }

// SheetInput is what a job sheet is made of: all findings of one clock, its record, and
// when and by what the sheet is made.
type SheetInput struct {
	Findings Findings
	Made     time.Time
	Version  string // of the program
}

// sheetPage is what the template sets: words, with nothing left to compute.
type sheetPage struct {
	Style    template.CSS
	Clock    string
	About    []string // the clock in few words: beats, train, rod
	Made     string
	Version  string
	Parts    []sheetPart
	Cautions []string
	Next     []string
	Readings []sheetReading
	Events   []sheetEvent
}

// sheetPart is one subject: spring, beat, days.
type sheetPart struct {
	Name    string
	Value   string // the one figure, with its interval
	Finding string // the sentence
	Values  [][2]string
	Order   string // the line to order a strip by; "" for none
	Reasons []string
	Working []string
	Figures []template.HTML
	Tables  []sheetTable
	suffix  string // of the figures' ids, where several parts have such figures
}

type sheetTable struct {
	Title string
	Wide  bool // it needs the page's whole width
	Head  []string
	Rows  [][]string
}

type sheetReading struct {
	At, Part, Dimension, Text, Value, Instrument string
	State                                        sessions.State
	Why                                          string
}

type sheetEvent struct {
	at                  time.Time
	At, What, Text, Why string
	TakenBack           bool
}

// Sheet writes the job sheet of a clock: one HTML file that needs no other, reads on any
// screen and prints on A4 and Letter. It begins with what was found and what to do next,
// and ends with all readings as they were received. It computes nothing: the sentences
// are those of the findings.
func Sheet(w io.Writer, in SheetInput) error {
	var b bytes.Buffer // whole or not at all
	err := writeSheet(&b, in)
	if err == nil {
		_, err = w.Write(b.Bytes())
	}
	if err != nil {
		return fmt.Errorf("job sheet: %w", err)
	}
	return nil
}

func writeSheet(w io.Writer, in SheetInput) error {
	t, err := template.ParseFS(sheetFiles, "sheet.html")
	if err != nil {
		return err
	}
	page, err := sheetOf(in)
	if err != nil {
		return err
	}
	page.Style = template.CSS(sheetStyle)
	var b strings.Builder
	if err := t.Execute(&b, page); err != nil {
		return err
	}
	_, err = io.WriteString(w, quantity.Visible(b.String()))
	return err
}

func sheetOf(in SheetInput) (sheetPage, error) {
	f := in.Findings
	clock := f.Record.Clock
	zone, err := time.LoadLocation(clock.Zone)
	if err != nil {
		zone = time.UTC
	}
	page := sheetPage{
		Clock:   printable(clock.Name),
		About:   aboutClock(clock),
		Made:    in.Made.In(zone).Format("2 January 2006, 15:04 MST"),
		Version: in.Version,
	}
	if err := springParts(&page, f); err != nil {
		return page, err
	}
	for _, partOf := range []func(*sheetPage, Findings) (sheetPart, bool, error){beatPart, goingPart} {
		part, ok, err := partOf(&page, f)
		if err != nil {
			return page, err
		}
		if ok {
			page.Parts = append(page.Parts, part)
		}
	}
	for _, r := range f.Fits {
		page.Parts = append(page.Parts, fitPart(&page, r, f.Units))
	}
	for _, r := range f.Record.Readings {
		page.Readings = append(page.Readings, readingRow(r, f.Units, zone))
	}
	page.Events = eventRows(f.Record, zone)
	return page, nil
}

// eventRows lists what was done to the clock in order of time, and whatever was taken
// back but readings, which have rows of their own.
func eventRows(r sessions.Record, zone *time.Location) (rows []sheetEvent) {
	what := func(e sessions.Event) string {
		if e.Kind == sessions.EventRemark {
			return e.Kind
		}
		return eventWords(e)
	}
	for _, e := range r.Events {
		rows = append(rows, sheetEvent{at: e.At, What: what(e), Text: e.Text})
	}
	taken := func(at time.Time, what, text, why string) {
		rows = append(rows, sheetEvent{at: at, What: what, Text: text, Why: why, TakenBack: true})
	}
	w := r.Withdrawn
	for _, x := range w.Events {
		taken(x.Row.At, what(x.Row), x.Row.Text, x.Why)
	}
	for _, x := range w.Checks {
		taken(x.Row.At, "checked: dial "+dialWords(quantity.Value{V: x.Row.ErrorS, U: x.Row.U}), "", x.Why)
	}
	for _, x := range w.Air {
		taken(x.Row.At, "air read", "", x.Why)
	}
	for _, x := range w.Sessions {
		taken(x.Row.Started, "session: "+x.Row.Kind, x.Row.Part, x.Why)
	}
	slices.SortStableFunc(rows, func(a, b sheetEvent) int { return a.at.Compare(b.at) })
	for i, row := range rows {
		rows[i].At = row.at.In(zone).Format("2 Jan 2006 15:04")
	}
	return rows
}

func aboutClock(c sessions.Clock) []string {
	var about []string
	if c.BeatsPerHour > 0 {
		about = append(about, strconv.FormatFloat(c.BeatsPerHour, 'f', -1, 64)+" beats an hour")
	}
	if c.Train != "" {
		about = append(about, "train "+printable(c.Train))
	}
	if c.Rod != "" {
		about = append(about, "rod: "+printable(c.Rod))
	}
	return about
}

func beatPart(page *sheetPage, f Findings) (sheetPart, bool, error) {
	if f.Rate == nil {
		return sheetPart{}, false, nil
	}
	r := *f.Rate
	p := sheetPart{Name: "Rate and beat", Value: r.Rate.FullSigned("s/day"), Finding: beatTitle(r) + ".",
		Reasons: append(append([]string(nil), r.Warnings...), r.Reasons...)}
	p.Values = [][2]string{
		{"rate (+ gains)", r.Rate.FullSigned("s/day")},
		{"tick less tock", beat.InMs(r.TickTock, quantity.Value.FullSigned)},
		{"beat error (half of it)", beat.InMs(r.BeatError, quantity.Value.Full)},
		{"beats an hour", strconv.FormatFloat(r.BeatsPerHour, 'f', 2, 64)},
		{"beats heard", fmt.Sprintf("%d; %s", r.Beats, r.Counts())},
		{"true time from", r.TimeBase.From()},
	}
	page.Next = append(page.Next, r.Next...)
	kinds := []string{"beat"}
	if len(r.Wheels) > 0 || len(r.Fold) > 0 {
		kinds = append(kinds, "wheels")
	}
	if len(stabilityRows(f)) > 2 {
		kinds = append(kinds, "stability")
	}
	err := p.add(f, kinds...)
	return p, true, err
}

func goingPart(page *sheetPage, f Findings) (sheetPart, bool, error) {
	if f.Going == nil || f.Going.Checks == 0 {
		return sheetPart{}, false, nil
	}
	g := *f.Going
	p := sheetPart{Name: "Days and weeks", Value: "cannot tell yet", Finding: goingTitle(g) + ".", Reasons: g.Reasons}
	if told(g.MeanRate) {
		p.Value = g.MeanRate.FullSigned("s/day")
	}
	for _, row := range []struct {
		name, unit string
		v          *quantity.Value
	}{{"mean rate (+ gains)", "s/day", g.MeanRate}, {"error of the dial (+ fast)", "s", g.ErrorNow},
		{"change of rate", "s/day each day", g.Trend}, {"expected a week on", "s", g.Forecast}} {
		if told(row.v) {
			p.Values = append(p.Values, [2]string{row.name, row.v.FullSigned(row.unit)})
		}
	}
	if g.Nut != nil && g.Nut.PerTurn.Finite() {
		p.Values = append(p.Values, [2]string{"a turn of the nut", g.Nut.PerTurn.Full("s/day") + ", from " + g.Nut.Source})
		if told(g.Nut.Advice) {
			p.Values = append(p.Values, [2]string{"turn the nut (+ to gain)", g.Nut.Advice.FullSigned("turns")})
		}
	}
	page.Next = append(page.Next, g.Next...)
	err := p.add(f, "going")
	return p, true, err
}

// add draws figures into the part.
func (p *sheetPart) add(f Findings, kinds ...string) error {
	for _, k := range kinds {
		fig, err := Draw(k, f)
		if err != nil {
			return err
		}
		fig.id += p.suffix
		svg, err := fig.Inline()
		if err != nil {
			return err
		}
		p.Figures = append(p.Figures, template.HTML(unstyled(svg))) // every word in it was escaped when drawn
	}
	return nil
}

var (
	tags   = regexp.MustCompile(`<[a-z][^<>]*>`)
	styles = regexp.MustCompile(`style="([^"]*)"`)
)

// unstyled turns the style of each element of an SVG into attributes, which a page's
// policy lets through where it forbids styles in the text.
func unstyled(svg []byte) []byte {
	return tags.ReplaceAllFunc(svg, func(tag []byte) []byte {
		return styles.ReplaceAllFunc(tag, func(style []byte) []byte {
			var attributes []string
			for rule := range strings.SplitSeq(string(style[len(`style="`):len(style)-1]), ";") {
				if name, value, ok := strings.Cut(rule, ":"); ok {
					attributes = append(attributes, name+`="`+value+`"`)
				}
			}
			return []byte(strings.Join(attributes, " "))
		})
	})
}

func readingRow(r sessions.Reading, u quantity.System, zone *time.Location) sheetReading {
	row := sheetReading{At: r.At.In(zone).Format("2 Jan 2006 15:04:05"), Part: r.Part, Dimension: r.Dimension,
		Text: visible(r.Text), Instrument: r.Instrument, State: r.State, Why: r.Why}
	dimension := r.Dimension
	if r.Kind == sessions.Count {
		dimension = "count" // whatever a plan of the user's own calls it
	}
	switch dimension {
	case "coils", "teeth", "leaves", "count", "turns":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64)
	case "force":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + " N"
	case "torque":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + " N m"
	case "mass":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + " kg"
	default:
		decimals := 3
		if r.Step > 0 {
			decimals = min(4, max(0, int(math.Ceil(-math.Log10(r.Step*1e3)-1e-9))))
		}
		row.Value = u.Size(r.Value, decimals)
	}
	return row
}

// visible shows a line as received, without its end. Characters that can't be seen are
// shown as in Go strings, such as \t.
func visible(text string) string {
	q := strconv.Quote(strings.TrimRight(text, "\r\n"))
	return strings.ReplaceAll(q[1:len(q)-1], `\"`, `"`)
}
