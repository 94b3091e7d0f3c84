package main

import (
	"context"
	"io"
	"iter"
	"math"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/stability"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type stabilityOptions struct {
	data, taus string
	interval   float64
}

func newStabilityCmd(a *app) *cobra.Command {
	var o stabilityOptions
	var r rateOptions
	c := &cobra.Command{
		Use:   "stability [FILE]",
		Short: "How steadily a clock goes: Allan deviations of its beats, or of a series",
		Long: `Show the Allan deviations, as defined in NIST SP 1065: of a timing session (the newest,
unless --session names one), of a beat file as rate reads it (--beats), or of a FILE
with one number a line (phase in seconds, or fractional frequency). Lines that start
with # are skipped, nan is a gap, also at either end; - reads standard input. The
interval is that of the overlapping Allan deviation, 68 %; --full shows the whole family.

Averaging times are in beats, or in the intervals of FILE. A year of beats takes no more
memory than an hour: from m = 64 on, only every m/32-th overlapping term is summed,
--taus all is refused, and TOTDEV is for a FILE only.`,
		Example: `  evenbeat stability
  evenbeat stability --beats week.csv --train 96/8,75/10,80/10,64/8,30 --taus 1,60,480
  evenbeat stability phase.txt --data phase --interval 1 --taus octave`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var f stability.Result
			var of, title string
			err := checkStabilityFlags(c, &r, len(args) > 0)
			switch {
			case err != nil:
			case len(args) > 0:
				title = "The steadiness of the series, from " + args[0]
				f, err = a.findStability(c, args[0], o)
			default:
				of, title, f, err = a.stabilityOfBeats(c.Context(), r, o)
			}
			if err != nil {
				return err
			}
			if a.asJSON {
				return a.answer(of, f)
			}
			decimals := 3
			if len(args) > 0 {
				decimals = 6
			}
			return render.Stability(a.out, title, f, decimals, a.full)
		},
	}
	a.clockFlag(c)
	a.fullFlag(c)
	r.beatFlags(c)
	o.flags(c)
	return c
}

// stabilityOfBeats finds the table of a beat file or of a session of the book, and
// says of which clock it is, if of any.
func (a *app) stabilityOfBeats(ctx context.Context, r rateOptions, o stabilityOptions) (of, title string, f stability.Result, err error) {
	taus, err := stability.ParseTaus(o.taus)
	if err == nil {
		_, err = stability.NewFamily(taus)
	}
	if err != nil {
		return "", "", f, flagError("taus", err)
	}
	var opt analysis.RateOptions
	r.tell(&opt)
	ofBeats := func(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], opt analysis.RateOptions) (stability.Result, error) {
		return analysis.Stability(clock, ses, beats, opt, taus)
	}
	if r.beats != "" {
		f, err = ofBeatFile(a, r, opt, func(in io.Reader, opt analysis.RateOptions) (stability.Result, error) {
			return analysis.StabilityFile(in, opt, taus)
		}, ofBeats)
		return "", "The steadiness of the beat, from " + r.beats, f, err
	}
	err = a.withClock(ctx, reading, func(b *book.Book, clock sessions.Clock) error {
		all, err := b.Sessions(ctx, clock.ID)
		if err != nil {
			return err
		}
		f, err = ofSession(ctx, a, b, clock, all, r, opt,
			func(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], opt analysis.RateOptions) (stability.Result, error) {
				read := []int64{ses.ID}
				if opt.Run != nil {
					read = opt.Run.Sessions()
				}
				of, title = clock.Name, clock.Name+": the steadiness of the beat, "+sessionsText(read)
				return ofBeats(clock, ses, beats, opt)
			})
		return err
	})
	return of, title, f, err
}

// checkStabilityFlags refuses flags that say nothing of what the table is of.
func checkStabilityFlags(c *cobra.Command, r *rateOptions, file bool) error {
	if !file {
		for _, name := range []string{"data", "interval"} {
			if c.Flags().Changed(name) {
				return badCall("--%s is for a FILE of phases or frequencies: name it, or leave the flag out for the beats of a clock", name)
			}
		}
		return r.check(c)
	}
	for _, name := range []string{"clock", "session", "from", "to", "as", "beats", "count-rate", "count-bits", "beats-per-hour", "train", "beats-per-tooth", "hour-arbor"} {
		if c.Flags().Changed(name) {
			return badCall("--%s is for the beats of a clock, and FILE holds phases or frequencies: give one or the other", name)
		}
	}
	return nil
}

func (o *stabilityOptions) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.data, "data", "", "what a line is: `phase|frequency`")
	f.Float64Var(&o.interval, "interval", 0, "time between lines, `SECONDS`")
	f.StringVar(&o.taus, "taus", "octave", "averaging times in intervals or beats: `octave|decade|all|1,2,10` (all: of a FILE)")
}

func (a *app) findStability(c *cobra.Command, name string, o stabilityOptions) (stability.Result, error) {
	var none stability.Result
	if o.data == "" {
		return none, badCall("--data is missing: say whether the lines of %s are phase or frequency", name)
	}
	kind, err := stability.ParseKind(o.data)
	if err != nil {
		return none, flagError("data", err)
	}
	if !c.Flags().Changed("interval") {
		return none, badCall("--interval is missing: name the seconds between two lines of %s", name)
	}
	if !(o.interval > 0) || math.IsInf(o.interval, 0) {
		return none, badCall("--interval %g: name the seconds between two lines", o.interval)
	}
	taus, err := stability.ParseTaus(o.taus)
	if err != nil {
		return none, flagError("taus", err)
	}
	var data []float64
	err = a.withInput(name, func(in io.Reader) error {
		if data, err = stability.ReadData(in); err != nil {
			return badCall("%s: %w", name, err)
		}
		return nil
	})
	if err != nil {
		return none, err
	}
	f, err := stability.Table(data, kind, o.interval, taus)
	if err != nil {
		return none, badCall("%s: %w", name, err)
	}
	return f, nil
}
