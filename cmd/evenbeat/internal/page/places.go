package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// place is a part of the page with an address of its own.
type place struct {
	Name   string // in the header; "" is not linked
	Path   string // of its page; with {id} it is of one clock
	Script string // of its own, from static; "" for none
	Routes map[string]answer
}

// answer answers a request. If it returns an error, it has written nothing.
type answer func(w http.ResponseWriter, r *http.Request) error

// places is the table of all places, in the order in which the header links them.
func (p *Page) places() []place {
	return []place{
		clocksPlace(p),
		newClockPlace(p),
		instrumentsPlace(p),
		measuringPlace(p),
		timingPlace(p),
		daysPlace(p),
		sheetPlace(p, "Sheet", "/clocks/{id}/sheet", false),
		sheetPlace(p, "For the customer", "/clocks/{id}/customer", true),
		figuresPlace(p),
		metricsPlace(p),
		staticPlace(p),
	}
}

func (p *Page) handler() http.Handler {
	mux := http.NewServeMux()
	for _, l := range p.header {
		for pattern, do := range l.Routes {
			mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
				if err := do(w, r); err != nil {
					p.fail(w, r, err)
				}
			})
		}
	}
	return p.guard(http.NewCrossOriginProtection().Handler(mux))
}

// refusal is an error with an HTTP status, in words for whoever looks at the page.
type refusal struct {
	status int
	words  string
}

func (e *refusal) Error() string { return e.words }

// refuse makes an error that is told to the browser as it stands, with a status.
func refuse(status int, format string, args ...any) error {
	return &refusal{status, fmt.Sprintf(format, args...)}
}

// fail tells a browser of an error. It never tells where anything lies on the disk.
func (p *Page) fail(w http.ResponseWriter, r *http.Request, err error) {
	no := &refusal{http.StatusInternalServerError, "The terminal that runs evenbeat bench says why."}
	if told, ok := errors.AsType[*refusal](err); ok {
		no = told
	} else if isKind(err, book.KindUnknown) || isKind(err, book.KindMissing) {
		no = &refusal{http.StatusNotFound, "The book holds no such thing."}
	} else if r.Context().Err() != nil {
		no = &refusal{http.StatusServiceUnavailable, "The page has ended."}
	} else {
		p.Log.Error().Err(err).Str("address", r.URL.Path).Msg("bench page")
	}
	title := "That can’t be done"
	if no.status == http.StatusNotFound {
		title = "Nothing is here"
	}
	p.show(w, r, no.status, "error.html", view{Title: title, Data: no.words})
}

func isKind(err error, k book.Kind) bool {
	e, ok := errors.AsType[*book.Error](err)
	return ok && e.Kind == k
}

// withBook opens the book for a request: a GET only reads. A book that isn't there yet
// is empty for a GET: do is not called.
func (p *Page) withBook(r *http.Request, do func(*book.Book) error) error {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return p.Write(r.Context(), do)
	}
	err := p.Read(r.Context(), do)
	if isKind(err, book.KindMissing) {
		return nil
	}
	return err
}

var errNoClock = refuse(http.StatusNotFound, "The book holds no such clock.")

// clockID is the number of the clock that a request's address names.
func clockID(r *http.Request) (int64, error) {
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return 0, errNoClock
	}
	return id, nil
}

// withClock opens the book for a request whose address names a clock.
func (p *Page) withClock(r *http.Request, do func(*book.Book, sessions.Clock) error) error {
	id, err := clockID(r)
	if err != nil {
		return err
	}
	found := false
	err = p.withBook(r, func(b *book.Book) error {
		c, ok, err := clockOf(r.Context(), b, id)
		if err != nil || !ok {
			return err
		}
		found = true
		return do(b, c)
	})
	if err == nil && !found {
		return errNoClock
	}
	return err
}

// clock finds the clock that a request's address names.
func (p *Page) clock(r *http.Request) (clock sessions.Clock, err error) {
	err = p.withClock(r, func(_ *book.Book, c sessions.Clock) error {
		clock = c
		return nil
	})
	return clock, err
}

func clockOf(ctx context.Context, b *book.Book, id int64) (c sessions.Clock, ok bool, err error) {
	all, err := b.Clocks(ctx)
	for _, c := range all {
		if c.ID == id {
			return c, true, nil
		}
	}
	return c, false, err
}

// addressOf returns a place's address for a clock.
func addressOf(path string, c sessions.Clock) string {
	return strings.ReplaceAll(path, "{id}", strconv.FormatInt(c.ID, 10))
}
