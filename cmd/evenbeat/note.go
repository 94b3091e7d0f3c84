package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type noteOptions struct {
	kind, text, at, turns string
	errors                []string
	yes                   bool
}

func newNoteCmd(a *app) *cobra.Command {
	var o noteOptions
	c := &cobra.Command{
		Use:   "note",
		Short: "Record an event in the clock's life",
		Long: `Record an event in the clock's life. --text says more: what was repaired, which holes
were bushed, which part was replaced. For a replaced part, begin --text with its name,
as in "mainspring, 0.45 mm" or "barrel: bore, depth": its older readings then no longer
count.

Turns of the rating nut are signed: plus = the clock is made to gain. For set, give the
dial's error before and after; without them, they are taken from the checks around it.
Cleaned, repaired, bushed and replaced begin a new stretch of going: the dial's error
before the work is not compared with the error after it.`,
		Example: `  evenbeat note --kind wound
  evenbeat note --kind adjusted --turns -0.5 --text "half a turn down"
  evenbeat note --kind bushed --text "centre arbor, back plate"
  evenbeat note --kind set --error +42s --error 0s`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.note(c, o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.kind, "kind", "", "the `KIND` of event: "+strings.Join(sessions.EventKinds(), ", "))
	f.StringVar(&o.turns, "turns", "", "turns of the rating nut, `X`, plus = made to gain: -0.5, 1/4")
	f.StringVar(&o.text, "text", "", "in your own `WORDS`")
	f.StringVar(&o.at, "at", "", "when it happened, a `TIME` (now)")
	f.StringArrayVar(&o.errors, "error", nil, "for set: the dial's `ERROR` before, and again after; plus = fast")
	f.BoolVar(&o.yes, "yes", false, "ask nothing: keep what is typed")
	return c
}

func (a *app) note(c *cobra.Command, o noteOptions) error {
	e := sessions.Event{Kind: o.kind, Text: o.text, HasTurns: c.Flags().Changed("turns")}
	// What is wrong with the call is told before a book is made.
	if o.kind == "" {
		return badCall("--kind is missing: say what happened: %s", strings.Join(sessions.EventKinds(), ", "))
	}
	var err error
	if e.HasTurns {
		if e.Turns, err = quantity.ParseTurns(o.turns); err != nil {
			return flagError("turns", err)
		}
	}
	if e.At, err = a.when("--at", o.at, time.UTC); err != nil {
		return err
	}
	if err := e.Validate(a.now()); err != nil {
		return asFlag(err)
	}
	if err := setErrors(&e, apart(o.errors)); err != nil {
		return err
	}
	return a.keepEvent(c.Context(), e, o)
}

// apart parts errors that were given as one, "42s,0s". A comma behind a digit is a decimal
// comma.
func apart(texts []string) (each []string) {
	for _, text := range texts {
		from := 0
		for i := 1; i < len(text); i++ {
			if text[i] == ',' && text[i-1] > '9' {
				each = append(each, text[from:i])
				from = i + 1
			}
		}
		each = append(each, text[from:])
	}
	return each
}

// setErrors takes the dial's errors before and after the hands were set.
func setErrors(e *sessions.Event, texts []string) error {
	if len(texts) == 0 {
		return nil
	}
	if e.Kind != sessions.EventSet {
		return badCall("--error goes with --kind set, not %s", e.Kind)
	}
	if len(texts) > 2 {
		return badCall("--error was given %d times: once before and once after the setting", len(texts))
	}
	for i, text := range texts {
		v, err := quantity.ParseDialError(text)
		if err != nil {
			return badCall("--error: %w", err)
		}
		if i == 0 {
			e.Before, e.HasBefore = v, true
		} else {
			e.After, e.HasAfter = v, true
		}
	}
	return nil
}

func (a *app) keepEvent(ctx context.Context, e sessions.Event, o noteOptions) error {
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		var err error
		if e.At, err = a.when("--at", o.at, a.zone(clock)); err != nil {
			return err
		}
		rec, err := b.Record(ctx, clock.ID, book.Checks, book.Events)
		if err != nil {
			return err
		}
		q := a.asking(o.yes)
		if err := q.sure(a.oddTime(e.At, rec, q.person)); err != nil {
			return err
		}
		if err := q.sure(e.Odd()); err != nil {
			return err
		}
		e.ClockID = clock.ID
		if e.ID, err = b.AddEvent(ctx, e); err != nil {
			return err
		}
		if err := a.sayEvent(e, a.zone(clock), clock.Name); err != nil || e.Kind != sessions.EventReplaced {
			return err
		}
		return a.sayReplaced(ctx, b, e)
	})
}

// sayReplaced says which readings no longer count since a part was replaced.
func (a *app) sayReplaced(ctx context.Context, b *book.Book, e sessions.Event) error {
	all, err := b.Readings(ctx, e.ClockID)
	if err != nil {
		return err
	}
	var names, parts []string
	for _, r := range all {
		if name := r.Part + " " + r.Dimension; r.ReplacedBy == e.ID && !slices.Contains(names, name) {
			names = append(names, name)
		}
		if !slices.Contains(parts, r.Part) {
			parts = append(parts, r.Part)
		}
	}
	switch {
	case len(names) > 0:
		a.say("Older readings no longer count: %s. To have them back: evenbeat undo note %d\n", strings.Join(names, ", "), e.ID)
	case len(parts) > 0:
		a.say("No reading is set aside. To measure a part again from the start, begin --text with its name: mainspring, or %s\n", strings.Join(parts, ", "))
	}
	return nil
}

// keptEvent says back an event in JSON.
type keptEvent struct {
	Event int64     `json:"event"`           // its number, which undo note takes
	Kind  string    `json:"kind"`            // of event: wound, adjusted …
	Time  time.Time `json:"time"`            // when it happened
	Turns *float64  `json:"turns,omitempty"` // of the rating nut, plus = made to gain
}

// sayEvent says back what was kept.
func (a *app) sayEvent(e sessions.Event, zone *time.Location, clock string) error {
	if a.asJSON {
		kept := keptEvent{Event: e.ID, Kind: e.Kind, Time: e.At}
		if e.HasTurns {
			kept.Turns = &e.Turns
		}
		return a.answer(clock, kept)
	}
	_, err := fmt.Fprintf(a.out, "%s: %s at %s, kept as note %d.\n", clock, render.Event(e), saidAt(e.At, zone), e.ID)
	if err == nil && e.Kind == sessions.EventWound {
		render.New(a.err).Say(render.WindingCaution)
	}
	if what, flag := untold(e); err == nil && what != "" {
		render.New(a.err).Say(fmt.Sprintf("%s. To add it, take the note back with evenbeat undo note %d and write it again with --at %s and %s.",
			what, e.ID, e.At.In(zone).Format(time.RFC3339), flag))
	}
	return err
}

// untold says what a note leaves open that one of its kind is about, and the flag that
// tells it; "" for nothing. Such a note is kept all the same: its time parts the going.
func untold(e sessions.Event) (what, flag string) {
	switch {
	case e.Kind == sessions.EventSet && !e.HasBefore && !e.HasAfter:
		return "The note doesn't say what the dial's error was before and after: the going is taken up at the next check", "--error"
	case e.Text != "" || e.HasTurns:
		return "", ""
	case e.Kind == sessions.EventAdjusted:
		return "The note doesn't say what was adjusted, or by how many turns of the nut: a new stretch of going begins, but what a turn brings isn't learned from it", "--turns or --text"
	}
	return map[string]string{
		sessions.EventRepaired: "The note doesn't say what was repaired",
		sessions.EventBushed:   "The note doesn't say which holes were bushed",
		sessions.EventReplaced: "The note doesn't say which part was replaced",
		sessions.EventRemark:   "The remark has no text",
	}[e.Kind], "--text"
}
