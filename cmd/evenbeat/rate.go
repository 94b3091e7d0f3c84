package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/analysis/train"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type rateOptions struct {
	session                  int64
	beats                    string
	countRate                float64
	countBits                int
	beatsPerHour             float64
	train                    string
	beatsPerTooth, hourArbor int
	gate                     gateFlag
}

func newRateCmd(a *app) *cobra.Command {
	var o rateOptions
	c := &cobra.Command{
		Use:   "rate",
		Short: "Rate, beat error, missed and spurious beats, wheel errors",
		Long: `Find the rate from a timing session (the newest, unless --session names one) or from a
file with one device count a line.`,
		Example: `  evenbeat rate
  evenbeat rate --beats week.csv --train 96/8,75/10,80/10,64/8,30 --count-rate 1e6
  evenbeat rate --flag 5.00±0.02mm --flag-distance 950±1mm`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.rate(c.Context(), o) },
	}
	a.clockFlag(c)
	o.beatFlags(c)
	o.gate.flags(c)
	return c
}

func (a *app) rate(ctx context.Context, o rateOptions) error {
	if err := o.check(); err != nil {
		return err
	}
	opt, err := a.rateOptions(o.gate)
	if err != nil {
		return err
	}
	var f beat.Result
	title := ""
	if o.beats != "" {
		title = "The beat, from " + o.beats
		f, err = ofBeatFile(a, o, opt, analysis.RateFile)
	} else {
		err = a.withClock(ctx, false, func(b *book.Book, clock sessions.Clock) error {
			rec, err := b.Record(ctx, clock.ID)
			if err != nil {
				return err
			}
			title = clock.Name + ": the beat"
			f, err = a.findRate(ctx, b, clock, rec, o.session, opt)
			return err
		})
	}
	if err != nil {
		return err
	}
	if a.asJSON {
		return writeJSON(a.out, f, true)
	}
	return writeRate(a.out, title, f)
}

// beatFlags say which beats are meant, and what is known of them.
func (o *rateOptions) beatFlags(c *cobra.Command) {
	f := c.Flags()
	f.Int64Var(&o.session, "session", 0, "timing session `N` (else the newest)")
	f.StringVar(&o.beats, "beats", "", "read counts from this beat `FILE` instead; - is standard input")
	f.Float64Var(&o.countRate, "count-rate", 1e6, "counts a second of the device, `HZ`")
	f.IntVar(&o.countBits, "count-bits", 32, "width of the device's counter: `16|24|32|64`")
	f.Float64Var(&o.beatsPerHour, "beats-per-hour", 0, "nominal beats in an hour, `N` (else from the train, else found)")
	f.StringVar(&o.train, "train", "", "the train `T`, which tells the beats in an hour and the wheels: 96/8,80/10,75/10,30")
	f.IntVar(&o.beatsPerTooth, "beats-per-tooth", train.UsualBeatsPerTooth, "beats for each tooth of the escape wheel")
	f.IntVar(&o.hourArbor, "hour-arbor", train.UsualHourArbor, "which arbor turns once an hour, counted from the barrel (1)")
}

func (o *rateOptions) check() error {
	if o.beats != "" && o.session != 0 {
		return badCall("--beats and --session: give one")
	}
	if o.train != "" && o.beatsPerHour != 0 {
		return badCall("--train and --beats-per-hour: give one, the beats follow from the train")
	}
	if !(o.countRate > 0) {
		return badCall("--count-rate %g: must be more than nothing", o.countRate)
	}
	switch o.countBits {
	case 16, 24, 32, 64:
		return nil
	}
	return badCall("--count-bits %d: must be 16, 24, 32 or 64", o.countBits)
}

// ofBeatFile has find read the beat file of the call.
func ofBeatFile[T any](a *app, o rateOptions, opt analysis.RateOptions, find func(io.Reader, analysis.RateOptions) (T, error)) (f T, err error) {
	opt.BeatsPerHour, opt.Train, opt.BeatsPerTooth, opt.HourArbor = o.beatsPerHour, o.train, o.beatsPerTooth, o.hourArbor
	opt.CountRate, opt.CountBits = o.countRate, o.countBits
	err = a.withInput(o.beats, func(in io.Reader) (err error) {
		p := a.progress("reading "+o.beats, sizeOf(in))
		defer p.end()
		f, err = find(counted{in, p}, opt)
		if _, few := errors.AsType[*beat.TooFewError](err); few {
			return fmt.Errorf("%s: %w", o.beats, err)
		}
		if err != nil {
			return badCall("%s: %w", o.beats, err)
		}
		return nil
	})
	return f, err
}
