package page

import (
	"net/http"
	"slices"

	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func clocksPlace(p *Page) place {
	return place{Name: "Clocks", Path: "/", Routes: map[string]answer{"GET /{$}": p.showClocks}}
}

// clockCard is what matters of a clock now.
type clockCard struct {
	Clock   sessions.Clock
	Figures [][2]string // each with what it is
	Next    []string
}

// Events is where the card is told of when it changes.
func (c clockCard) Events() string { return addressOf("/clocks/{id}/events", c.Clock) }

// Sheet is the address of the clock's sheet.
func (c clockCard) Sheet() string { return addressOf("/clocks/{id}/sheet", c.Clock) }

func (p *Page) showClocks(w http.ResponseWriter, r *http.Request) error {
	clocks, err := p.clocks(r)
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
// in use.
func (p *Page) clocks(r *http.Request) (all []sessions.Clock, err error) {
	err = p.withBook(r, func(b *book.Book) error {
		if all, err = b.Clocks(r.Context()); err != nil {
			return err
		}
		first, _, err := b.CurrentClock(r.Context())
		if p.Clock != "" {
			first.Name = p.Clock
		}
		if i := slices.IndexFunc(all, func(c sessions.Clock) bool { return c.Name == first.Name }); i > 0 {
			c := all[i]
			all = slices.Insert(slices.Delete(all, i, i+1), 0, c)
		}
		return err
	})
	return all, err
}

// sumUp picks from all that was found of a clock what matters now.
func (p *Page) sumUp(f plots.Findings) clockCard {
	c := clockCard{Clock: f.Record.Clock}
	add := func(name, value string) { c.Figures = append(c.Figures, [2]string{name, value}) }
	if g := f.Going; g != nil {
		if g.ErrorNow != nil {
			add("error of the dial", g.ErrorNow.DialText(quantity.Value.Signed))
		}
		if g.RateNow != nil {
			add("rate over the days", g.RateNow.Signed("s/day"))
		}
		c.Next = append(c.Next, g.Next...)
	}
	if f.Rate != nil {
		add("rate at the bench", f.Rate.Rate.Signed("s/day"))
		c.Next = append(c.Next, f.Rate.Next...)
	}
	if f.Spring != nil {
		add("mainspring", string(f.Spring.Verdict))
		c.Next = append(c.Next, f.Spring.Next...)
	}
	return c
}
