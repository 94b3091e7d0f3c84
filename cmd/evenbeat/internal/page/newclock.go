package page

import (
	"net/http"

	"evenbeat/analysis"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newClockPlace(p *Page) place {
	return place{Path: "/clocks/new", Routes: map[string]answer{
		"GET /clocks/new":        p.showNewClock,
		"POST /clocks/new":       p.addClock,
		"POST /clocks/new/check": p.checkClock,
	}}
}

// clockFields are what can be typed of a clock: the flags of the command clock add.
var clockFields = []string{"name", "train", "beats-per-hour", "beats-per-tooth", "hour-arbor", "rod", "nut-pitch", "zone"}

// newClock is the form of a clock, and what follows from what was typed of it.
type newClock struct {
	Form    form
	Follows *analysis.ClockFindings // nil if too little was typed, or something is wrong
}

func (p *Page) showNewClock(w http.ResponseWriter, r *http.Request) error {
	p.show(w, r, http.StatusOK, "newclock.html", view{Title: "Add a clock", Data: newClock{}})
	return nil
}

// readClock reads the form of a clock, and marks in it what is wrong.
func (p *Page) readClock(r *http.Request) (c sessions.Clock, n newClock, err error) {
	if n.Form, err = readForm(r); err != nil {
		return c, n, err
	}
	typed := map[string]string{}
	for _, name := range clockFields {
		typed[name] = n.Form.Text(name)
	}
	c, wrong := p.Describe(typed)
	for name, err := range wrong {
		n.Form.Fault(name, err)
	}
	return c, n, nil
}

func (p *Page) addClock(w http.ResponseWriter, r *http.Request) error {
	c, n, err := p.readClock(r)
	if err != nil {
		return err
	}
	if !n.Form.Bad() {
		err := p.withBook(r, func(b *book.Book) error {
			_, err := b.AddClock(r.Context(), c)
			return err
		})
		if err == nil {
			p.goTo(w, r, "/", "added")
			return nil
		}
		if !isKind(err, book.KindDuplicate) {
			return err
		}
		n.Form.Fault("name", refuse(0, "a clock of this name is in the book: choose another name"))
	}
	p.show(w, r, http.StatusUnprocessableEntity, "newclock.html", view{Title: "Add a clock", Data: n})
	return nil
}

// checkClock answers what is typed so far with what follows from it.
func (p *Page) checkClock(w http.ResponseWriter, r *http.Request) error {
	c, n, err := p.readClock(r)
	if err != nil {
		return err
	}
	delete(n.Form.faults, "name") // it may yet be typed
	if f, err := analysis.Clock(sessions.Record{Clock: c}, analysis.ClockOptions{}); err == nil && !n.Form.Bad() && f.BeatsPerHour > 0 {
		n.Follows = &f
	}
	p.write(w, http.StatusOK, "newclock.html", "follows", n)
	return nil
}
