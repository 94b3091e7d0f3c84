package page

import (
	"context"
	"time"
)

// Look draws a page from the book as it stands. It also tells what the page was drawn
// from, which changes with each new row. If that is still drawn, page is nil.
type Look func(ctx context.Context, drawn string) (from string, page []byte, err error)

// drawing is a page that is drawn by one request at a time, and only when the book has
// new rows. All who ask share the same bytes.
type drawing struct {
	look   Look
	turn   chan struct{} // whoever has put something in may use what follows
	looked time.Time     // when the last look at the book began
	from   string
	page   []byte
}

func newDrawing(look Look) drawing { return drawing{look: look, turn: make(chan struct{}, 1)} }

// get returns the page as of now or later.
func (d *drawing) get(ctx context.Context) ([]byte, error) {
	came := time.Now()
	select {
	case d.turn <- struct{}{}:
		defer func() { <-d.turn }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if d.page != nil && d.looked.After(came) {
		return d.page, nil
	}
	looks := time.Now()
	from, page, err := d.look(ctx, d.from)
	if err != nil {
		return nil, err
	}
	if page != nil {
		d.from, d.page = from, page
	}
	d.looked = looks
	return d.page, nil
}
