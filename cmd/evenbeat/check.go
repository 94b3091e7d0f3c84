package main

import (
	"context"
	"fmt"
	"math"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type checkOptions struct {
	error, at, limit, amplitude string
	yes                         bool
}

func newCheckCmd(a *app) *cobra.Command {
	var o checkOptions
	c := &cobra.Command{
		Use:   "check",
		Short: "Record one comparison of the dial with a reference",
		Long: `Record how far the dial is from true time: plus = the clock is fast. Without
--error, press Enter as the minute hand passes a full minute, and say which; the error
is taken against this computer's clock. You are asked about a check that is far from
the forecast before it is kept, and it stays out of every rate until another confirms it.

With --amplitude, how far the pendulum or the balance swings to one side is kept with the
check. When there are enough of them, evenbeat going tells whether the rate follows.`,
		Example: `  evenbeat check --error +7.5s
  evenbeat check --error -1m12s --at 2026-03-01T08:00:00+01:00 --limit 0.2s
  evenbeat check --error +7.5s --amplitude 1.9°`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.check(c.Context(), o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.error, "error", "", "the dial's `ERROR`, plus = fast: +7.5s, -1m12s")
	f.StringVar(&o.at, "at", "", "the `TIME` of the comparison (now)")
	f.StringVar(&o.limit, "limit", "", "limit of error of the comparison, ± a `SPAN` (a setting, else 0.5s)")
	f.StringVar(&o.amplitude, "amplitude", "", "the swing to one side of rest, in `DEGREES`")
	f.BoolVar(&o.yes, "yes", false, "ask nothing: keep what is typed")
	return c
}

func (a *app) check(ctx context.Context, o checkOptions) error {
	limit := a.loaded.Settings.Check.LimitS
	if o.limit != "" {
		d, err := quantity.ParseSpan(o.limit)
		if err != nil {
			return flagError("limit", err)
		}
		if d > quantity.MaxDialError {
			return badCall("--limit %s: must be at most %gh", o.limit, quantity.MaxDialError.Hours())
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
	swing, err := sessions.ReadAmplitude(o.amplitude)
	if err != nil {
		return badCall("--amplitude: %w", err)
	}
	// All that can be wrong with the call is found before a book is made.
	at, err := a.when("--at", o.at, time.UTC)
	q := a.asking(o.yes)
	hand := quantity.NearestMinute
	if o.error == "" {
		at, hand, err = q.listenForEnter()
	}
	if err != nil {
		return err
	}
	if err := (sessions.Check{At: at, ErrorS: errorS, U: limit / math.Sqrt(3)}).Validate(a.now()); err != nil {
		return asFlag(err)
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		zone := a.zone(clock)
		if o.at != "" {
			if at, err = a.when("--at", o.at, zone); err != nil {
				return err
			}
		}
		if o.error == "" {
			errorS = hand.DialError(at.In(zone))
		}
		return a.keepCheck(ctx, b, clock, q, sessions.Check{ClockID: clock.ID, At: at, ErrorS: errorS, U: limit / math.Sqrt(3)}, swing)
	})
}

// keptCheck says back a check in JSON.
type keptCheck struct {
	Check  int64           `json:"check"`           // its number, which undo check takes
	Time   time.Time       `json:"time"`            // of the comparison
	ErrorS float64         `json:"error_s"`         // of the dial, plus = fast
	U      float64         `json:"u_s"`             // its standard uncertainty
	Off    *quantity.Value `json:"off_s,omitempty"` // from the forecast, where it is doubtful

	Amplitude float64 `json:"amplitude_deg,omitempty"` // the swing to one side of rest
	Reading   int64   `json:"reading,omitempty"`       // the amplitude's number, which undo reading takes
}

// keepCheck asks about what is odd of a check, keeps it with its amplitude, if there is one,
// and says back what it kept.
func (a *app) keepCheck(ctx context.Context, b *book.Book, clock sessions.Clock, q *asking, k sessions.Check, swing sessions.Reading) error {
	rec, err := b.Record(ctx, clock.ID, book.Checks, book.Events)
	if err != nil {
		return err
	}
	if err := q.sure(a.oddTime(k.At, rec, q.person)); err != nil {
		return err
	}
	doubt, err := q.settle(rec, &k)
	if err != nil {
		return err
	}
	if k.ID, err = b.AddCheck(ctx, k); err != nil {
		return err
	}
	if swing.Value > 0 {
		swing.ClockID, swing.At = k.ClockID, k.At
		if swing.ID, err = b.AddReading(ctx, swing); err != nil {
			return fmt.Errorf("check %d is kept, its amplitude is not: %w", k.ID, err)
		}
	}
	if a.asJSON {
		kept := keptCheck{Check: k.ID, Time: k.At, ErrorS: k.ErrorS, U: k.U}
		if doubt != nil {
			kept.Off = &doubt.Off
		}
		if swing.Value > 0 {
			kept.Amplitude, kept.Reading = swing.Value, swing.ID
		}
		return a.answer(clock.Name, kept)
	}
	doubtful := ""
	if doubt != nil {
		doubtful = ", doubtful"
	}
	_, err = fmt.Fprintf(a.out, "%s: %s s at %s, kept as check %d%s (limit ±%g s).\n", clock.Name, quantity.Minus(fmt.Sprintf("%+.2f", k.ErrorS)),
		saidAt(k.At, a.zone(clock)), k.ID, doubtful, k.U*math.Sqrt(3))
	if swing.Value > 0 && err == nil {
		_, err = fmt.Fprintf(a.out, "The amplitude of %g° is kept as reading %d.\n", swing.Value, swing.ID)
	}
	return err
}

// saidAt writes a time as it is said back.
func saidAt(t time.Time, zone *time.Location) string {
	return t.In(zone).Format("2 Jan 2006 15:04:05 MST")
}

// listenForEnter takes the moment at which Enter is pressed for a full minute on the
// dial, and asks which minute that was. A script that doesn't say is taken to mean the
// nearest: a dial further out than half a minute needs it, or --error.
func (q *asking) listenForEnter() (time.Time, quantity.Hand, error) {
	q.a.say("Press Enter as the hand passes a full minute.\n")
	if _, err := q.in.ReadString('\n'); err != nil {
		return time.Time{}, quantity.Hand{}, badCall("check: Enter was not pressed: nothing recorded: press it as the hand passes the mark, or give --error")
	}
	at := q.a.now()
	if !q.person && q.in.Buffered() == 0 {
		return at, quantity.NearestMinute, nil
	}
	for {
		answer, err := q.ask("Which minute did the hand show, such as 7 or 10:07? Enter alone keeps nothing.")
		if err == nil && answer == "" {
			err = badCall("no minute was given: nothing recorded")
		}
		if err != nil {
			return at, quantity.Hand{}, err
		}
		h, err := quantity.ParseHand(answer)
		if err == nil {
			return at, h, nil
		}
		if !q.person {
			return at, h, badCall("%w", err)
		}
		q.a.say("%v\n", err)
	}
}
