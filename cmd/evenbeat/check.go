package main

import (
	"bufio"
	"context"
	"fmt"
	"math"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type checkOptions struct {
	error, at, limit string
}

func newCheckCmd(a *app) *cobra.Command {
	var o checkOptions
	c := &cobra.Command{
		Use:   "check",
		Short: "Record one comparison of the dial with a reference",
		Long: `Record how far the dial is from true time: plus = the clock is fast. Without
--error, press Enter as the minute hand passes a full minute; the error is taken
against this computer's clock.`,
		Example: `  evenbeat check --error +7.5s
  evenbeat check --error -1m12s --at 2026-03-01T08:00:00+01:00 --limit 0.2s`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.check(c.Context(), o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.error, "error", "", "the dial's `ERROR`, plus = fast: +7.5s, -1m12s")
	f.StringVar(&o.at, "at", "", "the `TIME` of the comparison (now)")
	f.StringVar(&o.limit, "limit", "", "limit of error of the comparison, ± a `SPAN` (a setting, else 0.5s)")
	return c
}

func (a *app) check(ctx context.Context, o checkOptions) error {
	limit := a.loaded.Settings.Check.LimitS
	if o.limit != "" {
		d, err := quantity.ParseSpan(o.limit)
		if err != nil {
			return flagError("limit", err)
		}
		limit = d.Seconds()
	}
	var errorS float64
	if o.error != "" {
		var err error
		if errorS, err = quantity.ParseDialError(o.error); err != nil {
			return badCall("--error: %w", err)
		}
	} else if o.at != "" {
		return badCall("--at goes with --error: without it the comparison is made now")
	}
	// All that can be wrong with the call is found before a book is made.
	at, err := a.when("--at", o.at, time.UTC)
	if o.error == "" {
		at, errorS, err = a.listenForEnter()
	}
	if err != nil {
		return err
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		if o.at != "" {
			if at, err = a.when("--at", o.at, a.zone(clock)); err != nil {
				return err
			}
			a.heedAhead(at)
		}
		k := sessions.Check{ClockID: clock.ID, At: at, ErrorS: errorS, U: limit / math.Sqrt(3)}
		if k.ID, err = b.AddCheck(ctx, k); err != nil {
			return err
		}
		if a.asJSON {
			return render.JSON(a.out, map[string]any{"check": k.ID, "time": k.At.Format(time.RFC3339Nano), "error_s": k.ErrorS, "u_s": k.U}, true)
		}
		_, err = fmt.Fprintf(a.out, "%s: %s s at %s, kept as check %d (limit of error ±%g s).\n", clock.Name, quantity.Minus(fmt.Sprintf("%+.2f", k.ErrorS)),
			at.In(a.zone(clock)).Format("2 Jan 2006 15:04:05 MST"), k.ID, limit)
		return err
	})
}

// listenForEnter takes the moment at which Enter is pressed for a full minute on
// the dial, and returns it with the dial's error: within half a minute either way,
// which is why a dial further out needs --error.
func (a *app) listenForEnter() (time.Time, float64, error) {
	a.say("Press Enter as the hand passes a full minute.\n")
	if _, err := bufio.NewReader(a.in).ReadString('\n'); err != nil {
		return time.Time{}, 0, badCall("check: no Enter was pressed: nothing recorded; or give --error")
	}
	at := a.now()
	past := math.Mod(float64(at.Second())+float64(at.Nanosecond())/1e9, 60)
	if past > 30 {
		past -= 60
	}
	return at, -past, nil
}
