package plots

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

//go:embed sheet.html customer.html
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
	Photos   []Photo
	Winding  analysis.ClockFindings // for the customer's page
}

// sheetPage is what the template sets: words, with nothing left to compute.
type sheetPage struct {
	Style    template.CSS
	Clock    string
	About    []string // the clock in few words: beats, train, rod
	Job      []string // whose it is, its numbers
	Wrong    string   // in the customer's own words
	Photos   []sheetPhoto
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
	ID, Session                                  int64
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
func Sheet(w io.Writer, in SheetInput) error { return write(w, "sheet.html", in, sheetOf) }

// write sets a page by its template: whole or not at all.
func write[T any](w io.Writer, name string, in SheetInput, pageOf func(SheetInput) (T, error)) error {
	text, err := setPage(name, in, pageOf)
	if err == nil {
		_, err = io.WriteString(w, text)
	}
	if err != nil {
		return fmt.Errorf("job sheet: %w", err)
	}
	return nil
}

func setPage[T any](name string, in SheetInput, pageOf func(SheetInput) (T, error)) (string, error) {
	t, err := template.ParseFS(sheetFiles, name)
	if err != nil {
		return "", err
	}
	page, err := pageOf(in)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = t.Execute(&b, page)
	return quantity.Visible(b.String()), err
}

func zoneOfSheet(c sessions.Clock) *time.Location {
	if zone, err := time.LoadLocation(c.Zone); err == nil {
		return zone
	}
	return time.UTC
}

// headOf sets what both pages begin with.
func headOf(in SheetInput, zone *time.Location) sheetPage {
	rec := in.Findings.Record
	page := sheetPage{Style: template.CSS(sheetStyle), Clock: printable(rec.Clock.Name), About: aboutClock(rec.Clock),
		Made: in.Made.In(zone).Format("2 January 2006, 15:04 MST"), Version: in.Version,
		Wrong: rec.Particular("", sessions.Complaint).Value, Photos: sheetPhotos(in.Photos)}
	for _, x := range []struct{ name, before string }{{sessions.Customer, "for "}, {sessions.JobNumber, "job "}, {sessions.Serial, "serial number "}, {sessions.MakerMark, "mark: "}} {
		if v := rec.Particular("", x.name).Value; v != "" {
			page.Job = append(page.Job, x.before+printable(v))
		}
	}
	return page
}

func sheetOf(in SheetInput) (sheetPage, error) {
	f := in.Findings
	zone := zoneOfSheet(f.Record.Clock)
	page := headOf(in, zone)
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
		{"change of rate", "s/day each day", g.Trend}, {"expected in a week", "s", g.Forecast}} {
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

// add draws figures into the part, each for paper and for a phone. The style shows one.
func (p *sheetPart) add(f Findings, kinds ...string) error {
	for _, k := range kinds {
		var both bytes.Buffer
		for _, f.Width = range []int{0, MinWidth} {
			fig, err := Draw(k, f)
			if err != nil {
				return err
			}
			fig.id += p.suffix
			if fig.layout.narrow {
				fig.id += "-narrow"
			}
			svg, err := fig.Inline()
			if err != nil {
				return err
			}
			both.Write(unstyled(svg))
		}
		p.Figures = append(p.Figures, template.HTML(both.String())) // every word in it was escaped when drawn
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
