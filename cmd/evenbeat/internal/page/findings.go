package page

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// findings returns all that the record of a clock tells, and what it was found from, which
// changes with each new row of the book. It is shared by all: nothing in it may be
// written to.
func (p *Page) findings(ctx context.Context, clock int64) (from string, f *plots.Findings, err error) {
	return p.found.get(ctx, "findings", strconv.FormatInt(clock, 10), func(ctx context.Context, drawn string) (from string, f *plots.Findings, err error) {
		err = p.Read(ctx, func(b *book.Book) error {
			c, ok, err := clockOf(ctx, b, clock)
			if err != nil {
				return err
			}
			if !ok {
				return errNoClock
			}
			if from, err = b.Newest(ctx, clock); err != nil || from == drawn {
				return err
			}
			all, err := p.Gather(ctx, b, c)
			f = &all
			return err
		})
		return from, f, err
	})
}

// drawOf returns something drawn of the findings of the clock that a request names: of a
// kind, under a key. It is drawn anew when the book has new rows.
func (p *Page) drawOf(r *http.Request, kind, key string, draw func(plots.Findings) ([]byte, error)) ([]byte, error) {
	id, err := clockID(r)
	if err != nil {
		return nil, err
	}
	_, made, err := p.drawn.get(r.Context(), kind, fmt.Sprint(id, key), func(ctx context.Context, drawn string) (string, *[]byte, error) {
		from, f, err := p.findings(ctx, id)
		if err != nil || from == drawn {
			return from, nil, err
		}
		out, err := draw(*f)
		return from, &out, err
	})
	if err != nil {
		return nil, err
	}
	return *made, nil
}

func figuresPlace(p *Page) place {
	return place{Routes: map[string]answer{
		"GET /clocks/{id}/figures/{figure}": p.showFigure,
		"GET /steps/{finding}/{dimension}":  p.showStep,
	}}
}

// onPhone is the width, in CSS pixels, of a figure that is asked for as narrow: what a
// phone's page leaves between its margins.
const onPhone = 360

// showStep draws how to take a dimension. It is the same whatever the book holds.
func (p *Page) showStep(w http.ResponseWriter, r *http.Request) error {
	fig, ok := plots.Step(sessions.Finding(r.PathValue("finding")), r.PathValue("dimension"))
	if !ok {
		return refuse(http.StatusNotFound, "There is no such drawing.")
	}
	svg, err := fig.Screen()
	if err != nil {
		return err
	}
	p.send(w, http.StatusOK, "image/svg+xml", svg)
	return nil
}

func (p *Page) showFigure(w http.ResponseWriter, r *http.Request) error {
	i := slices.IndexFunc(plots.Kinds(), func(k string) bool { return k+".svg" == r.PathValue("figure") })
	if i < 0 {
		return refuse(http.StatusNotFound, "There is no such figure.")
	}
	kind, key := plots.Kinds()[i], ""
	narrow := r.URL.Query().Has("narrow")
	if narrow {
		key = " narrow"
	}
	svg, err := p.drawOf(r, kind, key, func(f plots.Findings) ([]byte, error) {
		if narrow {
			f.Width = onPhone
		}
		fig, err := plots.Draw(kind, f)
		if err != nil {
			return nil, err
		}
		return fig.Screen()
	})
	if err != nil {
		return err
	}
	p.send(w, http.StatusOK, "image/svg+xml", svg)
	return nil
}
