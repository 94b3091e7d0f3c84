package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/analysis/train"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type rateOptions struct {
	session                  int64
	from, to                 string
	as                       string
	beats                    string
	countRate                float64
	countBits                int
	beatsPerHour             float64
	train                    string
	beatsPerTooth, hourArbor int
	gate                     gateFlag
	all                      bool
	counted                  bool // the call says what a count is
}

func newRateCmd(a *app) *cobra.Command {
	var o rateOptions
	c := &cobra.Command{
		Use:   "rate",
		Short: "Rate, beat error, missed and spurious beats, wheel errors",
		Long: `Find the rate from a timing session (the newest, unless --session names one) or from a
file with one device count a line.

A session that was read in the wrong format holds no steady beat. --as reads it again,
from the lines or raw bytes that were kept, and leaves the record as it is.

A week that a power cut broke into several sessions is read as one run by --from. Each
session counts from its own start, since the computer's clock may have been set between
them, and one rate is found for all.`,
		Example: `  evenbeat rate
  evenbeat rate --all
  evenbeat rate --beats week.csv --train 96/8,75/10,80/10,64/8,30 --count-rate 1e6
  evenbeat rate --session 7 --as count-lines
  evenbeat rate --from 2026-03-01 --to 2026-03-08
  evenbeat rate --flag 5.00±0.02mm --flag-distance 950±1mm`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := o.check(c); err != nil {
				return err
			}
			if o.all {
				if err := refuseWithAll(c, "session", "as", "from", "to", "beats", "beats-per-hour", "train", "flag", "flag-distance"); err != nil {
					return err
				}
				return a.rateOfAll(c.Context(), o)
			}
			return a.rate(c.Context(), o)
		},
	}
	a.clockFlag(c)
	a.fullFlag(c)
	allFlag(c, &o.all)
	o.beatFlags(c)
	o.gate.flags(c)
	return c
}

func (a *app) rate(ctx context.Context, o rateOptions) error {
	opt, err := a.rateOptions(o.gate)
	if err != nil {
		return err
	}
	o.tell(&opt)
	var f beat.Result
	of, title := "", ""
	if o.beats != "" {
		title = "The beat, from " + o.beats
		f, err = ofBeatFile(a, o, opt, analysis.RateFile, analysis.Rate)
	} else {
		err = a.withClock(ctx, reading, func(b *book.Book, clock sessions.Clock) error {
			all, err := b.Sessions(ctx, clock.ID)
			if err != nil {
				return err
			}
			of, title = clock.Name, clock.Name+": the beat"
			if o.as != "" {
				title += ", read as " + o.as
			}
			if f, err = a.findRate(ctx, b, clock, all, o, opt); len(f.Sessions) > 0 {
				title += ", " + sessionsText(f.Sessions)
			}
			if before := cutOffBefore(all, f.Session); before.ID != 0 && o.session == 0 {
				f.Next = append(f.Next, fmt.Sprintf("Session %d was cut off before this one began: evenbeat rate --from %s reads both as one run.",
					before.ID, before.Started.In(a.zone(clock)).Format("2006-01-02T15:04")))
			}
			return err
		})
	}
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.answer(of, f)
	}
	return render.Rate(a.out, title, f, a.full)
}

// beatFlags say which beats are meant, and what is known of them.
func (o *rateOptions) beatFlags(c *cobra.Command) {
	f := c.Flags()
	f.Int64Var(&o.session, "session", 0, "timing session `N` (else the newest)")
	f.StringVar(&o.from, "from", "", "read all timing sessions that began from this `TIME` on as one run")
	f.StringVar(&o.to, "to", "", "the `TIME` after which no session of the run began")
	f.StringVar(&o.as, "as", "", "read the session's lines as this wire `FORMAT`: count-lines, interval-lines (else as they were recorded)")
	f.StringVar(&o.beats, "beats", "", "read counts from this beat `FILE` instead, or what export --what beats wrote; - is standard input")
	f.Float64Var(&o.countRate, "count-rate", 1e6, "the device's counts per second, `HZ`")
	f.IntVar(&o.countBits, "count-bits", 32, "width of the device's counter: `16|24|32|64`")
	f.Float64Var(&o.beatsPerHour, "beats-per-hour", 0, "nominal beats in an hour, `N` (else from the train, else the clock's, else found)")
	f.StringVar(&o.train, "train", "", "the train `T` (else the clock's), to find the beats in an hour and judge the wheels: 96/8,80/10,75/10,30")
	f.IntVar(&o.beatsPerTooth, "beats-per-tooth", train.UsualBeatsPerTooth, "beats, `N`, for each tooth of the escape wheel")
	f.IntVar(&o.hourArbor, "hour-arbor", train.UsualHourArbor, "which arbor, `N`, turns once an hour; the barrel is 1")
}

// check refuses what can't be, and flags that would say nothing: a figure must not
// look as if it had heeded them.
func (o *rateOptions) check(c *cobra.Command) error {
	given := c.Flags().Changed
	for _, name := range []string{"session", "clock", "as", "from", "to"} {
		switch {
		case given("beats") && given(name):
			return badCall("--beats and --%s: give one, a beat file belongs to no clock in the book", name)
		case (name == "session" || name == "as") && given(name) && o.from+o.to != "":
			return badCall("--%s is for one session: leave it out, or --from and --to", name)
		}
	}
	for _, name := range []string{"count-rate", "count-bits"} {
		o.counted = o.counted || given(name)
		if given(name) && !given("beats") {
			return badCall("--%s is for --beats: leave it out, a session keeps what it was recorded with", name)
		}
	}
	for _, name := range []string{"beats-per-tooth", "hour-arbor"} {
		if given(name) && !given("train") {
			return badCall("--%s is for --train: give both; a clock's own train is changed with evenbeat clock edit", name)
		}
	}
	switch {
	case given("beats") && o.beats == "":
		return badCall(`--beats "": name the beat file, or leave the flag out for a session of the book`)
	case given("train") && given("beats-per-hour"):
		return badCall("--train and --beats-per-hour: give one, the beats follow from the train")
	case !(o.countRate > 0):
		return badCall("--count-rate %g: must be more than nothing", o.countRate)
	case !slices.Contains([]int{16, 24, 32, 64}, o.countBits):
		return badCall("--count-bits %d: must be 16, 24, 32 or 64", o.countBits)
	case given("train"):
		_, err := train.Parse(o.train, o.beatsPerTooth, o.hourArbor)
		return asCall(err)
	case given("beats-per-hour"):
		return flagError("beats-per-hour", analysis.CheckBeatsPerHour(o.beatsPerHour))
	}
	return nil
}

// tell adds to opt what the flags say of the beats: it wins over what a session's
// clock is known to do.
func (o *rateOptions) tell(opt *analysis.RateOptions) {
	opt.BeatsPerHour, opt.Train, opt.BeatsPerTooth, opt.HourArbor = o.beatsPerHour, o.train, o.beatsPerTooth, o.hourArbor
	if o.beats != "" {
		opt.CountRate, opt.CountBits = o.countRate, o.countBits
	}
}

// exported reports whether a text begins as export writes beats.
func exported(text *bufio.Reader) bool {
	start, _ := text.Peek(256) // what can't be read is told when it is read
	line, _, _ := strings.Cut(string(start), "\n")
	return !strings.HasPrefix(line, "#") && slices.Contains(strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",;\t\"\r\ufeff", r) }), "time_s")
}

// ofBeatFile has the beat file of the call read: by counts a file of counts, and by rows what
// export writes. Those have the times of a clock that the file doesn't tell of, as if they
// were imported.
func ofBeatFile[T any](a *app, o rateOptions, opt analysis.RateOptions, counts func(io.Reader, analysis.RateOptions) (T, error),
	rows func(sessions.Clock, sessions.Session, iter.Seq2[[]sessions.Beat, error], analysis.RateOptions) (T, error)) (f T, err error) {
	err = a.withInput(o.beats, func(in io.Reader) (err error) {
		p := a.streams().Progress("reading "+o.beats, sizeOf(in), a.now)
		defer p.End()
		text := bufio.NewReaderSize(p.Reader(in), 1<<16)
		if !exported(text) {
			f, err = counts(text, opt)
		} else if o.counted {
			return badCall("%s: its times are seconds: leave --count-rate and --count-bits out", o.beats)
		} else if in, no := openCSV(text, mostBeats, rowColumns["beats"].must...); no != nil {
			err = no
		} else {
			opt.CountRate, opt.CountBits = 0, 0
			f, err = rows(sessions.Clock{}, importedSession(0, a.now()), beatsOf(in, sessions.Clock{}, a.now()), opt)
		}
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
