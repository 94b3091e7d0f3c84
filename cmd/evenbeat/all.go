package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// goingOfAll is the answer of going --all in JSON.
type goingOfAll struct {
	Clocks []clockGoing `json:"clocks"` // all in the book, by name
}

// clockGoing is how one of the clocks went.
type clockGoing struct {
	Clock      string `json:"clock"`                 // its name
	CannotTell string `json:"cannot_tell,omitempty"` // why there are no findings
	*going.Result
}

// rateOfAll is the answer of rate --all in JSON.
type rateOfAll struct {
	Clocks []clockRate `json:"clocks"` // all in the book, by name
}

// clockRate is how one of the clocks beats.
type clockRate struct {
	Clock      string    `json:"clock"`                 // its name
	CannotTell string    `json:"cannot_tell,omitempty"` // why there are no findings
	Begun      time.Time `json:"begun,omitzero"`        // when its newest session of timing began
	*beat.Result
}

// allFlag gives c the flag --all.
func allFlag(c *cobra.Command, all *bool) {
	c.Flags().BoolVar(all, "all", false, "a line for each clock in the book")
}

// refuseWithAll refuses flags that say which clock is meant, or which of its beats.
func refuseWithAll(c *cobra.Command, names ...string) error {
	for _, name := range append(names, "clock") {
		if c.Flags().Changed(name) {
			return badCall("--all and --%s: give one, --all is for each clock as the book has it", name)
		}
	}
	return nil
}

// eachClock has tell find something of every clock in the book, by name. What tell can't
// find of one spoils no other: its error says so, and is told with the rest.
func (a *app) eachClock(ctx context.Context, tell func(*book.Book, sessions.Clock) error, unknown func(sessions.Clock, error), show func() error) error {
	return a.withBook(ctx, reading, func(b *book.Book) error {
		clocks, err := b.Clocks(ctx)
		if err != nil {
			return err
		}
		if len(clocks) == 0 {
			return errNoClock
		}
		slices.SortFunc(clocks, func(x, y sessions.Clock) int {
			return strings.Compare(strings.ToLower(x.Name), strings.ToLower(y.Name))
		})
		failed := 0
		for _, clock := range clocks {
			err := tell(b, clock)
			if err == nil {
				continue
			}
			if ctx.Err() != nil {
				return err
			}
			switch _, few := errors.AsType[*beat.TooFewError](err); {
			case errors.Is(err, errNoTiming):
				err = errNoTiming // its line has the clock's name already
			case !few:
				failed++
			}
			unknown(clock, err)
		}
		if err := show(); err != nil || failed == 0 {
			return err
		}
		return fmt.Errorf("%d of %d %s: what the book holds of them can't be judged, see their lines", failed, len(clocks), quantity.Plural(int64(len(clocks)), "clock", "clocks"))
	})
}

func (a *app) goingOfAll(ctx context.Context, o goingOptions) error {
	if _, err := a.goingSpan(o, time.UTC); err != nil {
		return err
	}
	found, lines := goingOfAll{}, []render.OneOfAll{}
	return a.eachClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		f, _, err := a.findGoing(ctx, b, clock, o)
		if err == nil {
			found.Clocks = append(found.Clocks, clockGoing{Clock: clock.Name, Result: &f})
			lines = append(lines, render.GoingOfOne(clock.Name, f, a.zone(clock)))
		}
		return err
	}, func(clock sessions.Clock, why error) {
		found.Clocks = append(found.Clocks, clockGoing{Clock: clock.Name, CannotTell: oneLine(why)})
		lines = append(lines, render.OneOfAll{Clock: clock.Name, Why: oneLine(why)})
	}, func() error {
		if a.asJSON {
			return a.answer("", found)
		}
		return render.All(a.out, "The going of all clocks", render.GoingHeads(), lines, "± is the 95 % interval, + is fast. evenbeat going --clock NAME says more.", a.full)
	})
}

func (a *app) rateOfAll(ctx context.Context, o rateOptions) error {
	opt, err := a.rateOptions(o.gate)
	if err != nil {
		return err
	}
	found, lines := rateOfAll{}, []render.OneOfAll{}
	return a.eachClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		all, err := b.Sessions(ctx, clock.ID)
		if err != nil {
			return err
		}
		f, err := a.findRate(ctx, b, clock, all, o, opt)
		if err != nil {
			return err
		}
		session, err := timingSession(all, clock, f.Session)
		found.Clocks = append(found.Clocks, clockRate{Clock: clock.Name, Begun: session.Started.UTC(), Result: &f})
		lines = append(lines, render.RateOfOne(clock.Name, f, session.Started, a.zone(clock)))
		return err
	}, func(clock sessions.Clock, why error) {
		found.Clocks = append(found.Clocks, clockRate{Clock: clock.Name, CannotTell: oneLine(why)})
		lines = append(lines, render.OneOfAll{Clock: clock.Name, Why: oneLine(why)})
	}, func() error {
		if a.asJSON {
			return a.answer("", found)
		}
		return render.All(a.out, "The beat of all clocks, by the newest session of each", render.RateHeads(), lines, "± is the 95 % interval, + is gaining. evenbeat rate --clock NAME says more.", a.full)
	})
}
