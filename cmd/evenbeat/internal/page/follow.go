package page

import (
	"context"
	"net/http"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
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

// follow tells of a session of a kind with a clock while it goes on, and of what the book
// has of it at other times: now is called whenever something may have changed.
func (p *Page) follow(w http.ResponseWriter, r *http.Request, kind, file string, now func(context.Context, *teller, sessions.Clock) error) error {
	var clock sessions.Clock
	err := p.withClock(r, func(_ *book.Book, c sessions.Clock) error {
		clock = c
		return nil
	})
	if err != nil {
		return err
	}
	return p.stream(w, r, func(ctx context.Context, s *stream) error {
		t := &teller{s, file, map[string]string{}}
		for ctx.Err() == nil {
			one, changed := p.runs.of(kind, clock.ID)
			until, stop := context.WithCancel(ctx)
			go func() {
				select {
				case <-changed:
				case <-until.Done():
				}
				stop()
			}()
			err := p.followOne(until, t, clock, one, now)
			stop()
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func (p *Page) followOne(ctx context.Context, t *teller, clock sessions.Clock, one *run, now func(context.Context, *teller, sessions.Clock) error) error {
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
	told := spoken{}
	return p.follow(w, r, sessions.SessionMeasure, "measuring.html", func(ctx context.Context, t *teller, clock sessions.Clock) error {
		if one, _ := p.runs.of(sessions.SessionMeasure, clock.ID); one != nil && !one.State().Over {
			v := p.measuringOf(clock, one.State())
			if err := t.measuring(v, &told); err != nil {
				return err
			}
		}
		v, err := p.measuringNow(ctx, clock)
		if err != nil {
			return err
		}
		if err := t.measuring(v, &told); err != nil {
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
