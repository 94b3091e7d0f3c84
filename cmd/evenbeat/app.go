package main

import (
	"context"
	"errors"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evenbeat/analysis/train"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/configs"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// version is what this program calls itself in sheets and exports.
const version = "0.1.0"

// app carries what commands share: the streams, the clock, the settings in force
// and the log. Each run makes one.
type app struct {
	in       io.Reader
	out, err io.Writer
	environ  []string
	now      func() time.Time

	configFile string
	asJSON     bool
	full       bool // for a person: all that is found
	clock      string
	changed    map[string]string // settings that flags set, by key

	loaded configs.Loaded
	log    zerolog.Logger
}

// run is the whole program: it parses args, does the work and returns the exit
// status. Findings go to out, all else to errs.
func run(ctx context.Context, args, environ []string, in io.Reader, out, errs io.Writer) int {
	a := &app{in: in, out: out, err: errs, environ: environ, now: time.Now, changed: map[string]string{}}
	root := newRoot(a)
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return statusDone
	}
	a.say("evenbeat: %s\n", oneLine(err))
	return statusOf(err)
}

// streams are those of the user's terminal, or of what stands in its place.
func (a *app) streams() terminal.Streams {
	return terminal.Streams{In: a.in, Out: a.out, Err: a.err, JSON: a.asJSON, Plain: a.getenv("TERM") == "dumb", Log: a.log}
}

// say writes a remark to standard error.
func (a *app) say(format string, args ...any) { a.streams().Say(format, args...) }

// bench is what running sessions know of the set-up.
func (a *app) bench() live.Bench {
	return live.Bench{Loaded: a.loaded, Unit: a.assume(), Log: a.log}
}

// withinSpan bounds ctx by what --for says; an empty text is no bound. Always call
// the function it returns.
func withinSpan(ctx context.Context, text string) (context.Context, context.CancelFunc, error) {
	if text == "" {
		return ctx, func() {}, nil
	}
	d, err := quantity.ParseSpan(text)
	if err != nil {
		return ctx, nil, flagError("for", err)
	}
	bound, stop := context.WithTimeout(ctx, d)
	return bound, stop, nil
}

// oneLine keeps the promise of one clear line, whatever a library put into its
// error.
func oneLine(err error) string {
	return strings.Join(strings.Fields(err.Error()), " ")
}

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "evenbeat",
		Short: "Measure, time and judge mechanical clocks at the bench",
		Long: `Evenbeat reads calipers and beat sensors over serial, keeps every reading in a
book, and tells what they mean: whether a mainspring fits its barrel, how a clock
goes and whether it beats evenly, how it drifts over days, and what to do next.`,
		Example: `  evenbeat demo --out demo
  evenbeat clock add Hall --train 96/8,80/10,75/10,30
  evenbeat measure --plan mainspring --port auto
  evenbeat spring`,
		Args:              cobra.NoArgs,
		RunE:              func(c *cobra.Command, _ []string) error { return c.Help() },
		SilenceUsage:      true,
		SilenceErrors:     true,
		PersistentPreRunE: func(c *cobra.Command, _ []string) error { return a.prepare(c) },
		CompletionOptions: cobra.CompletionOptions{HiddenDefaultCmd: true},
	}
	p := root.PersistentFlags()
	p.String("book", "", "the book `FILE` (env EVENBEAT_BOOK)")
	p.StringVar(&a.configFile, "config", "", "the settings `FILE` (env EVENBEAT_CONFIG)")
	p.BoolVar(&a.asJSON, "json", false, "write the findings as JSON, in SI units")
	p.String("units", "", "write lengths in `mm|in|both`, and take bare ones in mm or in")
	p.String("log-level", "", "log to standard error from `debug|info|warn|error` on")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return badFlag(err) })
	root.AddCommand(
		newDemoCmd(a), newPortsCmd(a), newClockCmd(a), newMeasureCmd(a), newSpringCmd(a), newFitCmd(a), newWeightCmd(a),
		newTimeCmd(a), newRateCmd(a), newStabilityCmd(a), newCheckCmd(a), newNoteCmd(a),
		newGoingCmd(a), newPlotCmd(a), newSheetCmd(a), newExportCmd(a), newImportCmd(a),
		newCaptureCmd(a), newReplayCmd(a), newBookCmd(a), newConfigCmd(a), newDoctorCmd(a),
		newBenchCmd(a),
	)
	wrapArgs(root)
	return root
}

// badFlag marks a refused flag as the caller's fault, which cobra returns as a plain
// error. For a value of the wrong type it says what to write, where the library would
// quote a parser.
func badFlag(err error) error {
	e, ok := errors.AsType[*pflag.InvalidValueError](err)
	if !ok {
		return asCall(err)
	}
	why := "write true or false"
	switch kind := e.GetFlag().Value.Type(); {
	case errors.Is(err, strconv.ErrRange):
		why = "write a smaller number"
	case kind == "float64":
		why = "write a number, such as 0.5 or 3600"
	case kind != "bool":
		why = "write a whole number"
	}
	return badCall("--%s %q: %s", e.GetFlag().Name, e.GetValue(), why)
}

// wrapArgs marks a wrong number of arguments as the caller's fault, for c and all its
// commands, and shows how to call the command. A command with commands of its own
// keeps cobra's error, which names the unknown one.
func wrapArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(c *cobra.Command, args []string) error {
			err := check(c, args)
			if err == nil || c.HasSubCommands() {
				return asCall(err)
			}
			return badCall("%q: write it as %s", strings.Join(append([]string{c.CommandPath()}, args...), " "), c.UseLine())
		}
	}
	for _, sub := range c.Commands() {
		wrapArgs(sub)
	}
}

// prepare loads the settings and makes the log, before any command's own work.
func (a *app) prepare(c *cobra.Command) error {
	for _, key := range []string{"book", "units", "log.level"} {
		if f := c.Flags().Lookup(configs.FlagName(key)); f != nil && f.Changed {
			a.changed[key] = f.Value.String()
		}
	}
	var err error
	a.loaded, err = configs.Load(configs.LoadOptions{File: a.configFile, Environ: a.environ, Flags: a.changed, Formats: live.FormatProfiles()})
	if err != nil {
		return asCall(err)
	}
	level, err := zerolog.ParseLevel(a.loaded.Settings.Log.Level)
	if err != nil {
		return asCall(err) // configs lets no other levels through
	}
	w := zerolog.ConsoleWriter{Out: a.err, NoColor: !a.colour(a.err), TimeFormat: "15:04:05.000"}
	a.log = zerolog.New(w).Level(level).With().Timestamp().Logger()
	return nil
}

// colour reports whether w is a terminal that may be coloured.
func (a *app) colour(w io.Writer) bool {
	return a.getenv("NO_COLOR") == "" && a.getenv("TERM") != "dumb" && terminal.Is(w)
}

func (a *app) getenv(name string) string {
	for i := len(a.environ) - 1; i >= 0; i-- {
		if k, v, ok := strings.Cut(a.environ[i], "="); ok && k == name {
			return v
		}
	}
	return ""
}

// units returns the system in which lengths are written: millimetres where the
// user names none.
func (a *app) units() quantity.System {
	s, err := quantity.ParseSystem(a.loaded.Settings.Units)
	if err != nil {
		return quantity.Metric
	}
	return s
}

// assume returns the unit of a length typed without one: none, unless the user
// has named mm or in.
func (a *app) assume() quantity.Unit {
	if a.loaded.Settings.Units == "" {
		return quantity.NoUnit
	}
	return a.units().Assume()
}

// fullFlag gives c the flag --full, for answers that are kept to one screen.
func (a *app) fullFlag(c *cobra.Command) {
	c.Flags().BoolVar(&a.full, "full", false, "write all that is found, not only what one screen holds")
}

// clockFlag gives c the flag --clock.
func (a *app) clockFlag(c *cobra.Command) {
	c.Flags().StringVar(&a.clock, "clock", "", "the clock's `NAME` (else the one in use, or the only one)")
}

// withBook opens the book, hands it to do and closes it; create makes a missing
// book.
func (a *app) withBook(ctx context.Context, create bool, do func(*book.Book) error) error {
	b, err := book.Open(ctx, a.loaded.Settings.Book, book.Options{Create: create, Log: a.log, Now: a.now})
	if err != nil {
		return err
	}
	return errors.Join(do(b), b.Close())
}

// withClock is withBook for what concerns one clock: the one named, the one in
// use, or the only one.
func (a *app) withClock(ctx context.Context, create bool, do func(*book.Book, sessions.Clock) error) error {
	return a.withBook(ctx, create, func(b *book.Book) error {
		c, err := a.chooseClock(ctx, b)
		if err != nil {
			return err
		}
		return do(b, c)
	})
}

func (a *app) chooseClock(ctx context.Context, b *book.Book) (sessions.Clock, error) {
	if a.clock != "" {
		return b.ClockByName(ctx, a.clock)
	}
	c, ok, err := b.CurrentClock(ctx)
	if err != nil {
		return c, err
	}
	if ok {
		return c, nil
	}
	all, err := b.Clocks(ctx)
	if err != nil {
		return c, err
	}
	if len(all) == 0 {
		return c, badCall("the book holds no clock yet: add one with evenbeat clock add NAME")
	}
	names := make([]string, len(all))
	for i, x := range all {
		names[i] = x.Name
	}
	return c, badCall("which clock? the book holds %s: name one with --clock, or once for all with evenbeat clock use NAME",
		strings.Join(names, ", "))
}

// zone returns the zone in which the clock's times are read and written.
func (a *app) zone(c sessions.Clock) *time.Location {
	for _, name := range []string{c.Zone, a.loaded.Settings.Zone} {
		if loc, err := time.LoadLocation(name); name != "" && err == nil {
			return loc
		}
	}
	return time.Local
}

// timeLayouts are the forms in which a time may be written.
var timeLayouts = []string{time.RFC3339Nano, "2006-01-02T15:04:05.999999999", "2006-01-02T15:04",
	"2006-01-02 15:04:05.999999999", "2006-01-02 15:04", time.DateOnly}

// aheadMost is how far ahead of this computer's clock a time may lie without a
// remark: clocks differ. A time further ahead is kept all the same, since this
// computer's clock may be the wrong one.
const aheadMost = 10 * time.Minute

// heedAhead warns of a time to be recorded that lies in the future.
func (a *app) heedAhead(t time.Time) {
	if t.After(a.now().Add(aheadMost)) {
		a.say("Heed: %s lies ahead by this computer's clock; it is kept as given.\n", t.Format(time.RFC3339))
	}
}

// when reads a time: RFC 3339, or without an offset in the clock's zone; now for
// an empty text.
func (a *app) when(flag, text string, zone *time.Location) (time.Time, error) {
	if text == "" {
		return a.now(), nil
	}
	for _, layout := range timeLayouts {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, badCall("%s %q is no time: write it like 2026-03-01T08:00:00+01:00, or without the offset for the clock's zone", flag, text)
}

// withWritableClock is withClock for commands that record. In a book without any
// clock it makes one, named Bench, so that a first reading is never refused.
func (a *app) withWritableClock(ctx context.Context, do func(*book.Book, sessions.Clock) error) error {
	// A clock that is named must exist, and so must its book.
	create := a.clock == ""
	return a.withBook(ctx, create, func(b *book.Book) error {
		all, err := b.Clocks(ctx)
		if err != nil {
			return err
		}
		if len(all) == 0 && a.clock == "" {
			c, err := b.AddClock(ctx, sessions.Clock{Name: "Bench", BeatsPerTooth: train.UsualBeatsPerTooth, HourArbor: train.UsualHourArbor})
			if err != nil {
				return err
			}
			a.say("The book held no clock yet: this is kept under Bench. Add your own with evenbeat clock add NAME.\n")
			return do(b, c)
		}
		c, err := a.chooseClock(ctx, b)
		if err != nil {
			return err
		}
		return do(b, c)
	})
}
