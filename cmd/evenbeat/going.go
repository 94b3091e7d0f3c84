package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/going"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type goingOptions struct {
	from, to string
	all      bool
}

func newGoingCmd(a *app) *cobra.Command {
	var o goingOptions
	c := &cobra.Command{
		Use:   "going",
		Short: "Error and rate over days, what explains them, and what to turn",
		Long: `Tell from the checks of the dial how the clock goes, what error to expect in a week, and
how far to turn the rating nut. When the nut was turned, the answer is how the clock goes
since then. A factor such as temperature is called established only where the record can
bear it; two that moved together are not told apart.`,
		Example: `  evenbeat going --from 2026-03-01 --to 2026-03-15
  evenbeat going --all`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if o.all {
				if err := refuseWithAll(c); err != nil {
					return err
				}
				return a.goingOfAll(c.Context(), o)
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				f, _, err := a.findGoing(c.Context(), b, clock, o)
				if err != nil {
					return err
				}
				if a.asJSON {
					return a.answer(clock.Name, f)
				}
				return render.Going(a.out, clock.Name+": the going", f, a.zone(clock), a.full)
			})
		},
	}
	a.clockFlag(c)
	a.fullFlag(c)
	allFlag(c, &o.all)
	c.Flags().StringVar(&o.from, "from", "", "leave out what came before this `TIME`")
	c.Flags().StringVar(&o.to, "to", "", "leave out what came after this `TIME`")
	return c
}

// findGoing reads the clock's record and finds how it went.
func (a *app) findGoing(ctx context.Context, b *book.Book, clock sessions.Clock, o goingOptions) (going.Result, sessions.Record, error) {
	g, err := a.goingSpan(o, a.zone(clock))
	if err != nil {
		return going.Result{}, sessions.Record{}, err
	}
	rec, err := b.Record(ctx, clock.ID, book.Sessions, book.Checks, book.Events, book.Air)
	if err != nil {
		return going.Result{}, rec, err
	}
	f, err := analysis.Going(rec, g)
	return f, rec, err
}

// goingSpan reads from when to when the record counts, in a clock's zone.
func (a *app) goingSpan(o goingOptions, zone *time.Location) (analysis.GoingOptions, error) {
	g := analysis.GoingOptions{Zone: zone}
	var err error
	g.From, g.To, err = a.between(o.from, o.to, zone)
	return g, err
}
