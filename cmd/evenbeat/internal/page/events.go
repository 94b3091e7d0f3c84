package page

import (
	"context"
	"net/http"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func eventsPlace(p *Page) place {
	return place{Routes: map[string]answer{"GET /clocks/{id}/events": p.tellOfClock}}
}

// tellOfClock streams what matters of a clock now, anew whenever that changes.
func (p *Page) tellOfClock(w http.ResponseWriter, r *http.Request) error {
	var clock sessions.Clock
	err := p.withClock(r, func(_ *book.Book, c sessions.Clock) error {
		clock = c
		return nil
	})
	if err != nil {
		return err
	}
	return p.stream(w, r, func(ctx context.Context, s *stream) error {
		had := ""
		for range p.changes(ctx) {
			from, f, err := p.findings(ctx, clock.ID)
			if err != nil {
				return err
			}
			if from == had {
				continue
			}
			had = from
			text, err := set("clocks.html", "clock", p.sumUp(*f))
			if err != nil {
				return err
			}
			if s.Send(0, "clock", text) != nil {
				return nil
			}
		}
		return nil
	})
}
