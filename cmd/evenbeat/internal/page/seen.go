package page

import (
	"context"
	"fmt"
	"sync"
	"time"
)

// asOf is when a place is looked at.
type asOf struct {
	one  *run    // the page's own session that goes on; nil for what the book tells
	seq  int64   // of its last event
	book [2]mark // by which the book is seen to have changed
}

// sights are how places stand, each looked at once for all browsers that show it.
type sights struct {
	mu  sync.Mutex
	all map[string]*seen
}

// seen is how a place stood at a moment.
type seen struct {
	turn chan struct{} // whoever has put something in may use what follows
	at   asOf
	view any
	next time.Time // when the book may be read anew for it
}

func (l *sights) of(place string, clock int64) *seen {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.all == nil {
		l.all = map[string]*seen{}
	}
	key := fmt.Sprint(place, clock)
	if l.all[key] == nil {
		l.all[key] = &seen{turn: make(chan struct{}, 1)}
	}
	return l.all[key]
}

// restFor is for looks that read much. Pages that are open take little of the computer's time
// then from a session that records.
const restFor = 20

// see returns how a place stands at a moment or later. All who look share it: nothing in it
// may be written to. After a look at the book nobody looks again for rests times as long.
func see[T any](ctx context.Context, s *seen, at asOf, rests time.Duration, look func() (T, error)) (v T, err error) {
	select {
	case s.turn <- struct{}{}:
		defer func() { <-s.turn }()
	case <-ctx.Done():
		return v, ctx.Err()
	}
	if had, ok := s.view.(T); ok && s.at.one == at.one && s.at.book == at.book && s.at.seq >= at.seq {
		return had, nil
	}
	if at.one != nil {
		at.seq = at.one.Seq()
	} else if rest(ctx, time.Until(s.next)); ctx.Err() != nil {
		return v, ctx.Err()
	}
	began := time.Now()
	if v, err = look(); err == nil {
		s.at, s.view, s.next = at, v, time.Now().Add(rests*time.Since(began))
	}
	return v, err
}

// rest waits, or until ctx ends.
func rest(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
