package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"

	"evenbeat/sessions"
)

// teller tells one browser how a place stands, each part of it when that has changed.
type teller struct {
	*stream
	file string
	had  map[string]string // by part
}

// part sends a part of the place if it differs from what the browser has. row is the
// number of the newest row that it tells of.
func (t *teller) part(row int64, name string, data any) error {
	text, err := set(t.file, name, data)
	if err != nil {
		return err
	}
	if t.had[name] == string(text) {
		return nil
	}
	t.had[name] = string(text)
	return t.Send(row, name, text)
}

// sight tells a browser how a place stands. It is called whenever that may have changed.
type sight func(context.Context, *teller, sessions.Clock) error

// follow tells of a session of a kind with a clock while it goes on, and of what the book
// has of it at other times. Each of the sights is told of by itself: one that takes long
// holds up no other.
func (p *Page) follow(w http.ResponseWriter, r *http.Request, kind, file string, sights ...sight) error {
	clock, err := p.clock(r)
	if err != nil {
		return err
	}
	return p.stream(w, r, func(ctx context.Context, s *stream) error {
		ctx, stop := context.WithCancel(ctx)
		defer stop()
		errs := make([]error, len(sights))
		var all sync.WaitGroup
		for i, now := range sights {
			all.Go(func() {
				defer stop()
				errs[i] = p.followAll(ctx, &teller{s, file, map[string]string{}}, kind, clock, now)
			})
		}
		all.Wait()
		return errors.Join(errs...)
	})
}

// followAll follows one session after the other.
func (p *Page) followAll(ctx context.Context, t *teller, kind string, clock sessions.Clock, now sight) error {
	for ctx.Err() == nil {
		one, changed := p.runs.of(kind, clock.ID)
		until, stop := context.WithCancel(ctx)
		go func() {
			defer stop()
			select {
			case <-changed:
			case <-until.Done():
			}
		}()
		err := p.followOne(until, t, clock, one, now)
		stop()
		if err != nil {
			return err
		}
	}
	return nil
}

func (p *Page) followOne(ctx context.Context, t *teller, clock sessions.Clock, one *run, now sight) error {
	tell := func() error {
		err := now(ctx, t, clock)
		if ctx.Err() != nil { // whatever it was, it is not to be told any more
			return nil
		}
		return err
	}
	if one != nil && !one.State().Over {
		for range one.Subscribe(ctx) {
			if err := tell(); err != nil {
				return err
			}
		}
		<-ctx.Done() // it is over: what comes next is told anew
		return nil
	}
	for range p.changes(ctx) {
		if err := tell(); err != nil {
			return err
		}
	}
	return nil
}

// tellMeasuring streams the place Measuring.
func (p *Page) tellMeasuring(w http.ResponseWriter, r *http.Request) error {
	told, judged := spoken{}, ""
	return p.follow(w, r, sessions.SessionMeasure, "measuring.html", func(ctx context.Context, t *teller, clock sessions.Clock) error {
		v, err := p.measuringNow(ctx, clock)
		if err != nil {
			return err
		}
		return t.measuring(v, &told)
	}, func(ctx context.Context, t *teller, clock sessions.Clock) error {
		v, err := p.measuringNow(ctx, clock)
		if err != nil {
			return err
		}
		is := fmt.Sprint(v.Mode, v.newest, v.undone)
		if is == judged {
			return nil
		}
		judged = is
		if v.Verdict, err = p.verdictOn(ctx, v); err != nil {
			return err
		}
		return t.part(v.newest, "verdict", v)
	})
}

// measuring tells of all but the verdict, which takes longer.
func (t *teller) measuring(v *measuringView, told *spoken) error {
	if err := t.mode(v.Mode); err != nil {
		return err
	}
	for _, name := range []string{"last", "asked", "heard", "notes", "steps", "rows"} {
		if err := t.part(v.newest, name, v); err != nil {
			return err
		}
	}
	before := *told
	*told = spoken{begun: true, newest: v.newest, undone: v.undone}
	if !before.begun {
		if before = (spoken{newest: t.Since, undone: v.undone}); t.Since == 0 {
			return nil
		}
	}
	if v.newest == before.newest && v.undone == before.undone {
		return nil
	}
	text, sound := v.Spoken(), "undone"
	if v.newest > before.newest {
		sound = v.Rows[0].State
	} else {
		text = "Taken back. " + text
	}
	if err := t.Send(0, "say", []byte(text)); err != nil {
		return err
	}
	return t.Send(0, "sound", []byte(sound))
}

// spoken is of what a browser was told aloud.
type spoken struct {
	begun  bool
	newest int64
	undone int
}

// mode tells a browser that shows another kind of session to look anew.
func (t *teller) mode(mode string) error {
	if t.had["mode"] == mode {
		return nil
	}
	t.had["mode"] = mode
	return t.Send(0, "mode", []byte(mode))
}
