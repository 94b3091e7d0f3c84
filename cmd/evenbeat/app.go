package main

import (
	"context"
	"errors"
	"io"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/configs"
	"evenbeat/devices/quantity"
)

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
	out = visibleWriter{out}
	a := &app{in: in, out: out, err: errs, environ: environ, now: time.Now, changed: map[string]string{}}
	root := newRoot(a)
	if len(args) > 0 && strings.HasPrefix(args[0], cobra.ShellCompRequestCmd) {
		a.completeAll(root) // it takes a tenth of the start: only the shell's question needs it
	}
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	return a.fail(execute(ctx, root))
}

// fail tells why the program ends, and returns its exit status.
func (a *app) fail(err error) int {
	if err == nil {
		return statusDone
	}
	f, ok := errors.AsType[*live.PanicError](err)
	if !ok {
		if !readerLeft(runtime.GOOS, err) {
			a.say("evenbeat: %s\n", oneLine(err))
		}
		return statusOf(err)
	}
	id := self()
	a.say("%s\n", f.Stack)
	a.say("evenbeat: a fault of the program, not of your call (version %s, %s, %s): %s. Please report it with the lines above and, if an instrument was read, with a file of evenbeat capture\n",
		id.Version, id.Go, id.System, oneLine(err))
	return statusFault
}

// execute runs the command that was called.
func execute(ctx context.Context, root *cobra.Command) (err error) {
	defer live.Caught(&err)
	return root.ExecuteContext(ctx)
}

// streams are those of the user's terminal, or of what stands in its place.
func (a *app) streams() terminal.Streams {
	s := terminal.Streams{In: a.in, Out: a.out, Err: a.err, JSON: a.asJSON, Line: render.Lines(a.out, a.made), Plain: a.getenv("TERM") == "dumb", Log: a.log}
	if socket := a.getenv("NOTIFY_SOCKET"); socket != "" {
		s.Notify = func(state string) { a.notify(socket, state) }
	}
	return s
}

// made says whose findings are, and that this program makes them now. No clock is meant
// by an empty name.
func (a *app) made(clock string) render.Made {
	return render.Made{Clock: clock, At: a.now(), Version: version()}
}

// answer writes findings as JSON, of a clock or of none.
func (a *app) answer(clock string, findings any) error {
	return render.JSON(a.out, a.made(clock), findings)
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
book, and tells what they mean: whether a mainspring fits its barrel, how a
clock goes and whether it beats evenly, how it drifts over days, and what to do
next.

Begin with evenbeat demo. evenbeat help NAME explains one of these topics:
` + strings.Join(configs.TopicNames(), ", ") + `.

Exit status: 0 done, 1 could not be done, 2 the call or the input was wrong,
3 a fault of the program itself.`,
		Example: `  evenbeat demo --out demo
  evenbeat clock add Hall --train 96/8,80/10,75/10,30
  evenbeat measure --plan mainspring --port auto
  evenbeat spring`,
		Args:              cobra.NoArgs,
		RunE:              func(c *cobra.Command, _ []string) error { return c.Help() },
		SilenceUsage:      true,
		SilenceErrors:     true,
		PersistentPreRunE: func(c *cobra.Command, _ []string) error { return a.prepare(c) },
	}
	root.Version = versionText()
	root.SetVersionTemplate("{{.Version}}")
	p := root.PersistentFlags()
	p.String("book", "", "the book `FILE` (env EVENBEAT_BOOK)")
	p.StringVar(&a.configFile, "config", "", "the settings `FILE` (env EVENBEAT_CONFIG)")
	p.BoolVar(&a.asJSON, "json", false, "write the findings as JSON, in SI units")
	p.String("units", "", "write lengths in `mm|in|both`, and take bare ones in mm or in")
	p.String("log-level", "", "log to standard error from `debug|info|warn|error` on")
	root.SetFlagErrorFunc(badFlag)
	root.AddCommand(
		newDemoCmd(a), newPortsCmd(a), newClockCmd(a), newMeasureCmd(a), newSpringCmd(a), newFitCmd(a), newWeightCmd(a),
		newTimeCmd(a), newAirCmd(a), newRateCmd(a), newStabilityCmd(a), newCheckCmd(a), newNoteCmd(a), newJobCmd(a), newInspectCmd(a),
		newGoingCmd(a), newPlotCmd(a), newSheetCmd(a), newRecordCmd(a), newUndoCmd(a), newMoveCmd(a),
		newExportCmd(a), newImportCmd(a),
		newCaptureCmd(a), newReplayCmd(a), newBookCmd(a), newConfigCmd(a), newDoctorCmd(a),
		newBenchCmd(a), newSchemaCmd(a), newVersionCmd(a),
	)
	root.SetHelpCommand(newHelpCmd(a))
	wrapArgs(root)
	return root
}

// badFlag marks a refused flag as the caller's fault, which cobra returns as a plain
// error. For an unknown one it names the nearest.
func badFlag(c *cobra.Command, err error) error {
	if e, ok := errors.AsType[*pflag.NotExistError](err); ok {
		var known []string
		c.Flags().VisitAll(func(f *pflag.Flag) { known = append(known, "--"+f.Name) })
		name := "--" + e.GetSpecifiedName()
		if e.GetSpecifiedShortnames() != "" {
			name = "-" + e.GetSpecifiedName()
		}
		return badCall("%s: %s has no such flag: %s", name, c.CommandPath(), configs.Meant(name, known))
	}
	if e, ok := errors.AsType[*pflag.ValueRequiredError](err); ok {
		value, _ := pflag.UnquoteUsage(e.GetFlag())
		return badCall("--%s: write its value after it: --%s %s", e.GetFlag().Name, e.GetFlag().Name, value)
	}
	e, ok := errors.AsType[*pflag.InvalidValueError](err)
	if !ok {
		return asCall(err)
	}
	return badCall("--%s %q: %s", e.GetFlag().Name, e.GetValue(), whyRefused(err))
}

// whyRefused says of a value of the wrong type what to write, where the library would
// quote a parser.
func whyRefused(err error) string {
	e, ok := errors.AsType[*pflag.InvalidValueError](err)
	if !ok {
		return err.Error()
	}
	switch kind := e.GetFlag().Value.Type(); {
	case errors.Is(err, strconv.ErrRange):
		return "write a smaller number"
	case kind == "float64":
		return "write a number, such as 0.5 or 3600"
	case kind != "bool":
		return "write a whole number"
	}
	return "write true or false"
}

// wrapArgs marks a wrong number of arguments as the caller's fault, for c and all its
// commands, and shows how to call the command. A command with commands of its own
// names the nearest of them.
func wrapArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(c *cobra.Command, args []string) error {
			err := check(c, args)
			if err == nil {
				return nil
			}
			if c.HasSubCommands() {
				return noCommand(c, args[0])
			}
			if c.Flags().Lookup("clock") != nil && c.Use == c.Name() {
				return badCall("%s takes no word: if %q is the clock, write --clock %q", c.CommandPath(), args[0], strings.Join(args, " "))
			}
			return badCall("%q: write it as %s", strings.Join(append([]string{c.CommandPath()}, args...), " "), c.UseLine())
		}
	}
	for _, sub := range c.Commands() {
		wrapArgs(sub)
	}
}

// noCommand refuses a word that is none of c's commands.
func noCommand(c *cobra.Command, word string) error {
	return badCall("%q is no command: %s", c.CommandPath()+" "+word, configs.Meant(word, commandNames(c)))
}

func commandNames(c *cobra.Command) (names []string) {
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, sub.Name())
		}
	}
	return names
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
