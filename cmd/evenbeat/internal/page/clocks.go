package page

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"time"

	"evenbeat/analysis"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func clocksPlace(p *Page) place {
	return place{Name: "Clocks", Path: "/", Routes: map[string]answer{
		"GET /{$}":    p.showClocks,
		"GET /events": p.tellOfClocks,
	}}
}

// clockCard is what matters of a clock now.
type clockCard struct {
	Clock   sessions.Clock
	Links   []link // to its places
	Figures []clockFigure
	Lacking []string // what was never measured
	Next    []string // of each subject what comes first
	Caution []string // before the spring is touched
}

// clockFigure is one figure of a card.
type clockFigure struct {
	Name, Value string
	About       string // when it was so, or what it rests on
	Scale       *scale // nil draws none
}

func (p *Page) showClocks(w http.ResponseWriter, r *http.Request) error {
	clocks, err := p.clocks(r.Context())
	if err != nil {
		return err
	}
	var cards []clockCard
	for _, c := range clocks {
		_, f, err := p.findings(r.Context(), c.ID)
		if err != nil {
			return err
		}
		cards = append(cards, p.sumUp(*f))
	}
	p.show(w, r, http.StatusOK, "clocks.html", view{Title: "Clocks", Data: cards})
	return nil
}

// clocks returns all clocks, first the one that the page was started for, or else the one
// in use; none where there is no book.
func (p *Page) clocks(ctx context.Context) (all []sessions.Clock, err error) {
	err = p.Read(ctx, func(b *book.Book) error {
		if all, err = b.Clocks(ctx); err != nil {
			return err
		}
		first, _, err := b.CurrentClock(ctx)
		if p.Clock != "" {
			first.Name = p.Clock
		}
		if i := slices.IndexFunc(all, func(c sessions.Clock) bool { return c.Name == first.Name }); i > 0 {
			c := all[i]
			all = slices.Insert(slices.Delete(all, i, i+1), 0, c)
		}
		return err
	})
	if isKind(err, book.KindMissing) {
		return nil, nil
	}
	return all, err
}

// tellOfClocks streams the card of each clock, at first and whenever it has changed.
func (p *Page) tellOfClocks(w http.ResponseWriter, r *http.Request) error {
	return p.stream(w, r, func(ctx context.Context, s *stream) error {
		had := map[int64][]byte{}
		for is := range p.changes(ctx) {
			cards, err := see(ctx, p.sights.of("clocks", 0), asOf{book: is}, restFor, func() (map[int64][]byte, error) { return p.cards(ctx) })
			if err != nil {
				return err
			}
			for id, text := range cards {
				if bytes.Equal(text, had[id]) {
					continue
				}
				if err := s.Send(0, fmt.Sprint("clock-", id), text); err != nil {
					return err
				}
			}
			had = cards
		}
		return nil
	})
}

// cards writes the card of each clock.
func (p *Page) cards(ctx context.Context) (map[int64][]byte, error) {
	clocks, err := p.clocks(ctx)
	if err != nil {
		return nil, err
	}
	all := map[int64][]byte{}
	for _, c := range clocks {
		_, f, err := p.findings(ctx, c.ID)
		if err != nil {
			return nil, err
		}
		if all[c.ID], err = set("clocks.html", "clock", p.sumUp(*f)); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// sumUp picks from all that was found of a clock what matters now.
func (p *Page) sumUp(f plots.Findings) clockCard {
	c := clockCard{Clock: f.Record.Clock, Links: p.linksOf(f.Record.Clock, "")}
	next := func(what []string) {
		if len(what) > 0 {
			c.Next = append(c.Next, what[0])
		}
	}
	zone := p.zone(c.Clock)
	if g := f.Going; g == nil {
		c.Lacking = append(c.Lacking, "the error of the dial, once a day")
	} else {
		if g.ErrorNow != nil {
			last := f.Record.Checks[len(f.Record.Checks)-1].At
			c.Figures = append(c.Figures, clockFigure{Name: "error of the dial (+ is fast)", Value: g.ErrorNow.DialText(quantity.Value.Signed),
				About: "at the check of " + moment(last, zone)})
		}
		if v := g.RateNow; v != nil {
			c.Figures = append(c.Figures, clockFigure{"rate over the days", v.Signed("s/day"), "", scaleOf(*v)})
		}
		next(g.Next)
	}
	if f.Rate == nil {
		c.Lacking = append(c.Lacking, "the beat")
	} else {
		about := fmt.Sprintf("%d beats in %s", f.Rate.Beats, quantity.SpanText(f.Rate.DurationS))
		c.Figures = append(c.Figures, clockFigure{"rate at the bench", f.Rate.Rate.Signed("s/day"), about, scaleOf(f.Rate.Rate.Value)})
		next(f.Rate.Next)
	}
	if f.Spring == nil {
		c.Lacking = append(c.Lacking, "the mainspring and its barrel")
	} else {
		c.Figures = append(c.Figures, clockFigure{Name: "mainspring", Value: string(f.Spring.Verdict)})
		next(f.Spring.Next)
		c.Caution = f.Spring.Cautions
	}
	// What can't be read of its train is told where it is typed.
	if life, err := analysis.Clock(f.Record, analysis.ClockOptions{Spring: f.Spring}); err == nil {
		c.Figures = append(c.Figures, winding(life, zone)...)
	}
	return c
}

// winding says when a clock was wound, and for how long that does.
func winding(life analysis.ClockFindings, zone *time.Location) []clockFigure {
	switch {
	case life.LastWound == nil:
		return nil
	case life.WindBy == nil:
		return []clockFigure{{Name: "wound", Value: moment(*life.LastWound, zone)}}
	}
	return []clockFigure{{Name: "wound until", Value: moment(*life.WindBy, zone), About: "wound " + moment(*life.LastWound, zone)}}
}

func moment(t time.Time, zone *time.Location) string {
	return t.In(zone).Format("Mon 2 Jan 2006 15:04")
}

// zone is the zone in which a clock's times are shown.
func (p *Page) zone(c sessions.Clock) *time.Location {
	for _, name := range []string{c.Zone, p.Settings.Zone} {
		if zone, err := time.LoadLocation(name); name != "" && err == nil {
			return zone
		}
	}
	return time.Local
}

// scale shows a rate as an interval on a line with 0 in its middle, for the template
// "scale". The line is 200 long.
type scale struct {
	From, Long float64 // of the interval on the line
	Ends       string  // what the line's ends are
}

// scaleOf returns the scale for a rate in s/day; nil for one that no line can show.
func scaleOf(v quantity.Value) *scale {
	most := max(math.Abs(v.Low95()), math.Abs(v.High95()))
	if !(most > 1e-6 && most < 1e6) {
		return nil
	}
	end := math.Pow(10, math.Floor(math.Log10(most)))
	for _, step := range []float64{1, 2, 5, 10} {
		if step*end >= most {
			end *= step
			break
		}
	}
	at := func(x float64) float64 { return 100 + 100*x/end }
	from, to := at(v.Low95()), at(v.High95())
	if thin := 3 - (to - from); thin > 0 { // or it would not be seen
		from, to = from-thin/2, to+thin/2
	}
	return &scale{From: from, Long: to - from, Ends: fmt.Sprintf("%.4g", end)}
}
