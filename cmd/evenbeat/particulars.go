package main

import (
	"context"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newJobCmd(a *app) *cobra.Command {
	c := a.particularsCmd(false)
	c.Use, c.Short = "job", "Record whose clock it is, what is wrong with it, its numbers and photographs"
	c.Long = `Record what you are told about a clock and its job. The latest entry of each
kind counts; earlier ones stay in the book. A photograph is copied into a folder beside
the book, and its name recorded. Without options, what is recorded is shown.`
	c.Example = `  evenbeat job --customer "Mrs Ashdown" --job 2026-114 --complaint "It stops in the night."
  evenbeat job --serial 4711 --photo dial.jpg
  evenbeat job`
	return c
}

func newInspectCmd(a *app) *cobra.Command {
	c := a.particularsCmd(true)
	c.Use, c.Short = "inspect", "Record what was seen of a barrel and its spring: end, hooks, direction, cover"
	c.Long = `Record what you see that no instrument measures. The verdict on a spring and the
order line use it. The latest entry of each kind counts; earlier ones stay in the book.
Without options, what is recorded is shown; with --part alone, that of the part.

Let the spring down fully, with a let-down key and the click under control, before the
barrel is opened. Take it out with a proper winder, never by hand alone.`
	c.Example = `  evenbeat inspect --barrel-hook sound --arbor-hook sound
  evenbeat inspect --part "striking barrel" --end hole --direction clockwise`
	return c
}

// particularsCmd records particulars of parts, or of the clock and its job.
func (a *app) particularsCmd(ofPart bool) *cobra.Command {
	values := map[string]*[]string{}
	part, at := "", ""
	c := &cobra.Command{Args: cobra.NoArgs}
	f := c.Flags()
	for _, n := range sessions.ParticularNames() {
		if n.OfPart != ofPart {
			continue
		}
		placeholder := "WORDS"
		switch {
		case n.Values != nil:
			placeholder = strings.Join(n.Values, "|")
		case n.Name == sessions.Photo:
			placeholder = "FILE"
		}
		values[n.Name] = f.StringArray(n.Name, nil, n.Says+": `"+placeholder+"`")
	}
	if ofPart {
		f.StringVar(&part, "part", "barrel", "the `PART` that was looked at")
	}
	f.StringVar(&at, "at", "", "when it was told or seen, a `TIME` (now)")
	a.clockFlag(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		all, photos, err := a.typedParticulars(values, part)
		if err != nil {
			return err
		}
		if len(all) == 0 {
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				only := ""
				if c.Flags().Changed("part") {
					only = part
				}
				return a.showParticulars(c.Context(), b, clock, ofPart, only)
			})
		}
		return a.withWritableClock(c.Context(), func(b *book.Book, clock sessions.Clock) error {
			return a.keepParticulars(c.Context(), b, clock, all, photos, at)
		})
	}
	return c
}

// typedParticulars reads what was typed, and refuses it before a book is made. It returns
// the files of photographs too.
func (a *app) typedParticulars(typed map[string]*[]string, part string) (all []sessions.Particular, photos []string, err error) {
	for _, n := range sessions.ParticularNames() {
		if typed[n.Name] == nil {
			continue
		}
		values := *typed[n.Name]
		if len(values) > 1 && n.Name != sessions.Photo {
			return nil, nil, badCall("--%s was given %d times", n.Name, len(values))
		}
		for _, v := range values {
			if n.Name == sessions.Photo {
				photos = append(photos, v)
				v = photoName(v)
			}
			p := sessions.Particular{At: a.now(), Part: part, Name: n.Name, Value: n.Fix(v)}
			if err := p.Validate(a.now()); err != nil {
				return nil, nil, asFlag(err)
			}
			all = append(all, p)
		}
	}
	return all, photos, nil
}

func (a *app) keepParticulars(ctx context.Context, b *book.Book, clock sessions.Clock, all []sessions.Particular, photos []string, at string) error {
	when, err := a.when("--at", at, a.zone(clock))
	if err != nil {
		return err
	}
	for i := range all {
		all[i].At, all[i].ClockID = when, clock.ID
		if err := all[i].Validate(a.now()); err != nil {
			return asFlag(err)
		}
	}
	for _, name := range photos {
		if err := keepPhoto(b.Path(), name); err != nil {
			return err
		}
	}
	ids, err := b.AddParticulars(ctx, all)
	if err != nil {
		return err
	}
	for i, id := range ids {
		all[i].ID = id
	}
	return a.sayParticulars(clock, all, "kept")
}

// showParticulars shows what rules, of parts or of the clock and its job; of one part where
// only names it.
func (a *app) showParticulars(ctx context.Context, b *book.Book, clock sessions.Clock, ofPart bool, only string) error {
	rec, err := b.Record(ctx, clock.ID, book.Particulars)
	if err != nil {
		return err
	}
	var rule []sessions.Particular
	for _, p := range rec.Particulars {
		if (p.Part != "") == ofPart && (only == "" || p.Part == only) && (p.Name == sessions.Photo || rec.Particular(p.Part, p.Name).ID == p.ID) {
			rule = append(rule, p)
		}
	}
	return a.sayParticulars(clock, rule, "recorded")
}

type particularList struct {
	Particulars []particularLine `json:"particulars"` // those that were kept now, or that count
}

type particularLine struct {
	Number int64     `json:"particular"`     // its number, which undo particular takes
	Time   time.Time `json:"time"`           // when it was told or seen
	Part   string    `json:"part,omitempty"` // of the clock; absent where it is of the clock or its job
	Name   string    `json:"name"`           // what it says: customer, end …
	Value  string    `json:"value"`          // in words
}

func (a *app) sayParticulars(clock sessions.Clock, all []sessions.Particular, done string) error {
	if a.asJSON {
		lines := []particularLine{}
		for _, p := range all {
			lines = append(lines, particularLine{p.ID, p.At, p.Part, p.Name, p.Value})
		}
		return a.answer(clock.Name, particularList{lines})
	}
	r := render.New(a.out)
	n := int64(len(all))
	if n == 0 {
		r.Printf("%s: nothing recorded here yet: --help names what can be.\n", clock.Name)
		return r.Err()
	}
	r.Printf("%s: %d %s %s.\n", clock.Name, n, quantity.Plural(n, "particular", "particulars"), done)
	for _, p := range all {
		r.Row(strings.TrimSpace(p.Part+" "+p.Name), p.Value)
	}
	return r.Err()
}
