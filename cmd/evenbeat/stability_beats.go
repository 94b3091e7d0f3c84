package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/analysis/stability"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// beatFlags are rate's own, for which beats are meant and what is known of them.
func (o *rateOptions) beatFlags(c *cobra.Command) {
	f := c.Flags()
	f.Int64Var(&o.session, "session", 0, "timing session `N` (else the newest)")
	f.StringVar(&o.beats, "beats", "", "read counts from this beat `FILE` instead; - is standard input")
	f.Float64Var(&o.countRate, "count-rate", 1e6, "counts a second of the device, `HZ`")
	f.IntVar(&o.countBits, "count-bits", 32, "width of the device's counter: `16|24|32|64`")
	f.Float64Var(&o.beatsPerHour, "beats-per-hour", 0, "nominal beats in an hour, `N` (else from the train, else found)")
	f.StringVar(&o.train, "train", "", "the train `T`, which tells the beats in an hour: 96/8,80/10,75/10,30")
	f.IntVar(&o.beatsPerTooth, "beats-per-tooth", 2, "beats for each tooth of the escape wheel")
	f.IntVar(&o.hourArbor, "hour-arbor", 2, "which arbor turns once an hour, counted from the barrel (1)")
}

// stabilityOfBeats finds the table of a beat file or of a session of the book.
func (a *app) stabilityOfBeats(ctx context.Context, r rateOptions, o stabilityOptions) (f stability.Result, err error) {
	if r.beats != "" && r.session != 0 {
		return f, badCall("--beats and --session: give one")
	}
	if r.train != "" && r.beatsPerHour != 0 {
		return f, badCall("--train and --beats-per-hour: give one, the beats follow from the train")
	}
	taus, err := stability.ParseTaus(o.taus)
	if err == nil {
		_, err = stability.NewFamily(taus)
	}
	if err != nil {
		return f, flagError("taus", err)
	}
	if r.beats != "" {
		return a.stabilityOfBeatFile(r, taus)
	}
	err = a.withClock(ctx, false, func(b *book.Book, clock sessions.Clock) error {
		f, err = a.stabilityOfSession(ctx, b, clock, r.session, taus)
		return err
	})
	return f, err
}

func (a *app) stabilityOfBeatFile(r rateOptions, taus stability.Taus) (f stability.Result, err error) {
	if !(r.countRate > 0) {
		return f, badCall("--count-rate %g: must be more than nothing", r.countRate)
	}
	switch r.countBits {
	case 16, 24, 32, 64:
	default:
		return f, badCall("--count-bits %d: must be 16, 24, 32 or 64", r.countBits)
	}
	opt := analysis.RateOptions{BeatsPerHour: r.beatsPerHour, Train: r.train, BeatsPerTooth: r.beatsPerTooth, HourArbor: r.hourArbor,
		CountRate: r.countRate, CountBits: r.countBits}
	err = a.withInput(r.beats, func(in io.Reader) (err error) {
		p := a.progress("reading "+r.beats, sizeOf(in))
		defer p.end()
		f, err = analysis.StabilityFile(counted{in, p}, taus, opt)
		if _, few := errors.AsType[*beat.TooFewError](err); few {
			return fmt.Errorf("%s: %w", r.beats, err)
		}
		if err != nil {
			return badCall("%s: %w", r.beats, err)
		}
		return nil
	})
	return f, err
}

func (a *app) stabilityOfSession(ctx context.Context, b *book.Book, clock sessions.Clock, session int64, taus stability.Taus) (f stability.Result, err error) {
	rec, err := b.Record(ctx, clock.ID)
	if err != nil {
		return f, err
	}
	ses, err := timingSession(rec, clock, session)
	if err != nil {
		return f, err
	}
	n, err := b.BeatCount(ctx, ses.ID)
	if err != nil {
		return f, err
	}
	var opt analysis.RateOptions
	if opt.References, err = b.References(ctx, ses.ID); err != nil {
		return f, err
	}
	p := a.progress(fmt.Sprintf("reading session %d", ses.ID), n)
	defer p.end()
	return analysis.Stability(clock, ses, p.beats(b.Beats(ctx, ses.ID)), taus, opt)
}
