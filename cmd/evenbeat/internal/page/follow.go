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
func (t *teller) part(row int64, name string, v written) error {
	text, err := v.textOf(t.file, name, v)
	if err != nil {
		return err
	}
	if t.had[name] == text {
		return nil
	}
	t.had[name] = text
	return t.Send(row, name, []byte(text))
}

// written is how a place stands, whose parts are written by a template.
type written interface {
	textOf(file, name string, data any) (string, error)
}

// texts holds the parts of a place as they are written, each once for all browsers.
type texts struct {
	mu   sync.Mutex
	text map[string]string
}

func (p *texts) textOf(file, name string, data any) (string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if text, ok := p.text[name]; ok {
		return text, nil
	}
	text, err := set(file, name, data)
	if err == nil {
		if p.text == nil {
			p.text = map[string]string{}
		}
		p.text[name] = string(text)
	}
	return string(text), err
}

// sight tells a browser how a place stands at a moment. It is called whenever that may have
// changed.
type sight func(context.Context, *teller, sessions.Clock, asOf) error

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
		errs := make([]error, len(sights)+1)
		var all sync.WaitGroup
		all.Go(func() {
			defer stop()
			errs[len(sights)] = p.tellPorts(ctx, s, file, kind)
		})
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
	tell := func(at asOf) error {
		err := now(ctx, t, clock, at)
		if ctx.Err() != nil { // whatever it was, it is not to be told any more
			return nil
		}
		return err
	}
	if one != nil && !one.State().Over {
		at := asOf{one: one, seq: -1}
		for e := range one.Subscribe(ctx) {
			if e.Seq <= at.seq { // it was seen with an earlier one
				continue
			}
			at.seq = one.Seq()
			if err := tell(at); err != nil {
				return err
			}
		}
		<-ctx.Done() // it is over: what comes next is told anew
		return nil
	}
	for is := range p.changes(ctx) {
		if err := tell(asOf{book: is}); err != nil {
			return err
		}
	}
	return nil
}

// tellMeasuring streams the place Measuring.
func (p *Page) tellMeasuring(w http.ResponseWriter, r *http.Request) error {
	told, judged := spoken{}, ""
	return p.follow(w, r, sessions.SessionMeasure, "measuring.html", func(ctx context.Context, t *teller, clock sessions.Clock, at asOf) error {
		v, err := p.measuringSeen(ctx, clock, at)
		if err != nil {
			return err
		}
		return t.measuring(v, &told)
	}, func(ctx context.Context, t *teller, clock sessions.Clock, at asOf) error {
		v, err := p.measuringSeen(ctx, clock, at)
		if err != nil {
			return err
		}
		is := fmt.Sprint(v.Mode, v.newest, v.undone)
		if is == judged {
			return nil
		}
		judged = is
		own := *v // the verdict is not part of what all share
		own.texts = &texts{}
		if own.Verdict, err = p.verdictOn(ctx, v); err != nil {
			return err
		}
		return t.part(own.newest, "verdict", &own)
	})
}

// measuringSeen is the place as it stands, but for the verdict. It is shared.
func (p *Page) measuringSeen(ctx context.Context, clock sessions.Clock, at asOf) (*measuringView, error) {
	return see(ctx, p.sights.of(sessions.SessionMeasure, clock.ID), at, 0, func() (*measuringView, error) {
		if at.one != nil {
			return p.measuringOf(clock, at.one.State()), nil
		}
		return p.measuringNow(ctx, clock)
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
