package page

import (
	"context"
	"sync"
	"time"
)

// look makes something from the book as it stands. It also tells what that was made
// from, which changes with each new row. If that is still drawn, made is nil.
type look[T any] func(ctx context.Context, drawn string) (from string, made *T, err error)

// drawing is what is made by one request at a time, and only when the book has new
// rows. All who ask share it.
type drawing[T any] struct {
	turn   chan struct{} // whoever has put something in may use what follows
	looked time.Time     // when the last look at the book began
	from   string
	made   *T
}

// get returns what the look makes as of now or later, and what it was made from.
func (d *drawing[T]) get(ctx context.Context, look look[T]) (string, *T, error) {
	came := time.Now()
	select {
	case d.turn <- struct{}{}:
		defer func() { <-d.turn }()
	case <-ctx.Done():
		return "", nil, ctx.Err()
	}
	if d.made != nil && d.looked.After(came) {
		return d.from, d.made, nil
	}
	looks := time.Now()
	from, made, err := look(ctx, d.from)
	if err != nil {
		return "", nil, err
	}
	if made != nil {
		d.from, d.made = from, made
	}
	d.looked = looks
	return d.from, d.made, nil
}

// mostKept bounds the drawings on a shelf.
const mostKept = 64

// shelf holds drawings by key. Those of one kind are made one at a time. The zero value
// is an empty shelf.
type shelf[T any] struct {
	mu    sync.Mutex
	turns map[string]chan struct{} // by kind
	kept  map[string]*drawing[T]
	order []string // keys, in the order in which they came
}

// get returns the drawing of a kind under a key, as of now or later.
func (s *shelf[T]) get(ctx context.Context, kind, key string, look look[T]) (string, *T, error) {
	return s.drawing(kind, kind+" "+key).get(ctx, look)
}

func (s *shelf[T]) drawing(kind, key string) *drawing[T] {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.kept == nil {
		s.turns, s.kept = map[string]chan struct{}{}, map[string]*drawing[T]{}
	}
	if s.turns[kind] == nil {
		s.turns[kind] = make(chan struct{}, 1)
	}
	if d := s.kept[key]; d != nil {
		return d
	}
	if len(s.order) == mostKept {
		delete(s.kept, s.order[0])
		s.order = s.order[1:]
	}
	d := &drawing[T]{turn: s.turns[kind]}
	s.kept[key], s.order = d, append(s.order, key)
	return d
}
