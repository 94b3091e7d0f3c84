package page

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/going"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

const daysPath = "/clocks/{id}/days"

func daysPlace(p *Page) place {
	return place{Name: "Days", Path: daysPath, Script: "days.js", Routes: map[string]answer{
		"GET " + daysPath:             p.showDays,
		"GET " + daysPath + "/time":   p.tellTime,
		"POST " + daysPath:            p.postDays,
		"GET " + daysPath + "/events": p.tellDays,
	}}
}

// days is how a clock goes over the days, and the forms by which its record grows.
type days struct {
	*texts
	Path    string
	Figure  string        // its address, which is another for each record
	Going   *going.Result // nil before the first check
	Figures []clockFigure
	Winding []clockFigure
	Rows    []dayRow // the newest first

	Tapped, Check, Note form
	Kinds               []string
	Caution             string
	LimitS              float64
}

// Measured are the fields that the script fills in.
func (days) Measured() []string { return []string{"taps", "before", "after", "step"} }

// dayRow is a check, an amplitude or a note, as the list shows it.
type dayRow struct {
	Thing book.Thing
	ID    int64
	At    time.Time
	When  string
	What  string
	Text  string // in the words of whoever wrote it
	Back  bool   // it was taken back
	Why   string // it was
}

func (p *Page) showDays(w http.ResponseWriter, r *http.Request) error {
	id, err := clockID(r)
	if err != nil {
		return err
	}
	return p.writeDays(w, r, http.StatusOK, id, days{})
}

// writeDays shows the page with the forms of d.
func (p *Page) writeDays(w http.ResponseWriter, r *http.Request, status int, clock int64, d days) error {
	from, f, err := p.findings(r.Context(), clock)
	if err != nil {
		return err
	}
	c := f.Record.Clock
	d.fill(*f, addressOf(daysPath, c), p.zone(c))
	d.Figure = figureOf(c, from)
	d.LimitS = p.Settings.Check.LimitS
	p.show(w, r, status, "days.html", view{Title: "Days", Clock: &c, Data: d})
	return nil
}

// figureOf is the address of the figure of the days, as of a record.
func figureOf(c sessions.Clock, from string) string {
	return addressOf("/clocks/{id}/figures/going.svg", c) + "?" + url.Values{"as-of": {from}}.Encode()
}

// tellDays streams what the book tells of the days. The forms stay as they are.
func (p *Page) tellDays(w http.ResponseWriter, r *http.Request) error {
	clock, err := p.clock(r)
	if err != nil {
		return err
	}
	return p.stream(w, r, func(ctx context.Context, s *stream) error {
		t := &teller{s, "days.html", map[string]string{}}
		for is := range p.changes(ctx) {
			d, err := see(ctx, p.sights.of("days", clock.ID), asOf{book: is}, restFor, func() (*days, error) {
				from, f, err := p.findings(ctx, clock.ID)
				if err != nil {
					return nil, err
				}
				d := &days{texts: &texts{}}
				d.fill(*f, addressOf(daysPath, clock), p.zone(f.Record.Clock))
				d.Figure = figureOf(clock, from)
				return d, nil
			})
			if err != nil {
				return err
			}
			for _, name := range []string{"answer", "week", "rows"} {
				if err := t.part(0, name, d); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// fill writes into d what was found of a clock.
func (d *days) fill(f plots.Findings, path string, zone *time.Location) {
	d.Path, d.Going, d.Kinds, d.Caution = path, f.Going, sessions.EventKinds(), render.WindingCaution
	if g := f.Going; g != nil {
		for _, x := range []struct {
			name, unit string
			v          *quantity.Value
		}{{"rate now", "s/day", g.RateNow}, {"mean rate", "s/day", g.MeanRate}} {
			if x.v != nil {
				d.Figures = append(d.Figures, clockFigure{x.name, x.v.Signed(x.unit), "", scaleOf(*x.v)})
			}
		}
		for _, x := range []struct {
			name string
			v    *quantity.Value
		}{{"error at the last check (+ is fast)", g.ErrorNow}, {"error in a week, if nothing is touched", g.Forecast}} {
			if x.v != nil {
				d.Figures = append(d.Figures, clockFigure{Name: x.name, Value: x.v.DialText(quantity.Value.Signed)})
			}
		}
	}
	// What can't be read of its train is told where it is typed.
	if life, err := analysis.Clock(f.Record, analysis.ClockOptions{Spring: f.Spring}); err == nil {
		d.Winding = winding(life, zone)
	}
	d.list(f.Record, zone)
}

// list writes the rows of the list.
func (d *days) list(rec sessions.Record, zone *time.Location) {
	check := func(c sessions.Check, back bool, why string) {
		v := quantity.Value{V: c.ErrorS, U: c.U}
		d.Rows = append(d.Rows, dayRow{book.ThingCheck, c.ID, c.At, moment(c.At, zone), "dial " + v.DialText(quantity.Value.Signed), "", back, why})
	}
	note := func(e sessions.Event, back bool, why string) {
		d.Rows = append(d.Rows, dayRow{book.ThingNote, e.ID, e.At, moment(e.At, zone), render.Event(e), e.Text, back, why})
	}
	for _, r := range rec.Readings {
		if r.IsAmplitude() {
			d.Rows = append(d.Rows, dayRow{book.ThingReading, r.ID, r.At, moment(r.At, zone), fmt.Sprintf("amplitude %g°", r.Value), "", r.State == sessions.Undone, r.Why})
		}
	}
	for _, c := range rec.Checks {
		check(c, false, "")
	}
	for _, c := range rec.Withdrawn.Checks {
		check(c.Row, true, c.Why)
	}
	for _, e := range rec.Events {
		note(e, false, "")
	}
	for _, e := range rec.Withdrawn.Events {
		note(e.Row, true, e.Why)
	}
	slices.SortStableFunc(d.Rows, func(a, b dayRow) int { return b.At.Compare(a.At) })
}

// tellTime tells the time by this computer, in nanoseconds since 1970.
func (p *Page) tellTime(w http.ResponseWriter, _ *http.Request) error {
	p.send(w, http.StatusOK, "text/plain; charset=utf-8", fmt.Append(nil, p.Now().UnixNano()))
	return nil
}
