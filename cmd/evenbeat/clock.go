package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evenbeat/analysis"
	"evenbeat/analysis/pendulum"
	"evenbeat/analysis/train"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newClockCmd(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "clock",
		Short: "The clocks in the book",
		Example: `  evenbeat clock add Hall --train 96/8,80/10,75/10,30 --rod steel
  evenbeat clock use Hall
  evenbeat clock show`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return badCall("clock: say what: add, list, show, edit or use")
		},
	}
	c.AddCommand(newClockAddCmd(a), newClockListCmd(a), newClockShowCmd(a), newClockEditCmd(a), newClockUseCmd(a))
	return c
}

// clockOptions describe a clock on the command line; a flag that wasn't typed
// leaves what the book has.
type clockOptions struct {
	train, rod, nutPitch, zone string
	beatsPerHour               float64
	beatsPerTooth, hourArbor   int
}

func (o *clockOptions) flags(f *pflag.FlagSet) {
	f.StringVar(&o.train, "train", "", "wheels over the pinions they drive, `T` from the barrel to the escape wheel: 96/8,80/10,75/10,30")
	f.Float64Var(&o.beatsPerHour, "beats-per-hour", 0, "beats in an hour, `N`, when the train is not known")
	f.IntVar(&o.beatsPerTooth, "beats-per-tooth", train.UsualBeatsPerTooth, "beats, `N`, for each tooth of the escape wheel")
	f.IntVar(&o.hourArbor, "hour-arbor", train.UsualHourArbor, "which arbor, `N`, turns once an hour; the barrel is 1")
	f.StringVar(&o.rod, "rod", "", "the pendulum rod: `steel|brass|wood|invar|PPM` per kelvin")
	f.StringVar(&o.nutPitch, "nut-pitch", "", "pitch of the rating nut's thread, a `LENGTH`: 0.8mm")
	f.StringVar(&o.zone, "zone", "", "time `ZONE` of the clock: Europe/Paris")
}

// apply lays what was typed over clock and checks it.
func (o *clockOptions) apply(a *app, f *pflag.FlagSet, clock *sessions.Clock) error {
	if f.Changed("train") && f.Changed("beats-per-hour") {
		return badCall("--train and --beats-per-hour: %w", errOneOfBoth)
	}
	for _, part := range o.parts(a, f.Changed, clock) {
		switch err := part.apply(); {
		case err != nil && (part.flag == "train" || part.flag == "rod"):
			return asCall(err) // which names the thing
		case err != nil:
			return flagError(part.flag, err)
		}
	}
	return nil
}

var errOneOfBoth = errors.New("give one, the beats follow from the train")

// clockPart is a part of a clock's description, by the flag that it is typed after.
type clockPart struct {
	flag  string
	apply func() error
}

// parts lay what was typed over clock, part by part, and check it.
func (o *clockOptions) parts(a *app, typed func(flag string) bool, clock *sessions.Clock) []clockPart {
	parts := []clockPart{
		{"beats-per-hour", func() error {
			clock.Train, clock.BeatsPerHour = "", o.beatsPerHour
			return analysis.CheckBeatsPerHour(o.beatsPerHour)
		}},
		{"rod", func() error {
			clock.Rod = o.rod
			_, err := pendulum.ParseRod(o.rod)
			return err
		}},
		{"nut-pitch", func() error {
			l, err := quantity.ParseLength(o.nutPitch, a.assume())
			if err == nil && l.Metres <= 0 {
				err = quantity.BadInput("nut-pitch", o.nutPitch, "must be more than nothing")
			}
			clock.NutPitch = l.Metres
			return err
		}},
		{"zone", func() error {
			clock.Zone = o.zone
			if _, err := time.LoadLocation(o.zone); err != nil {
				return quantity.BadInput("zone", strconv.Quote(o.zone), "is not known: write it like Europe/Paris")
			}
			return nil
		}},
	}
	parts = slices.DeleteFunc(parts, func(p clockPart) bool { return !typed(p.flag) })
	// Last, and always: what it is read with may have changed.
	return append(parts, clockPart{"train", func() error { return o.applyTrain(typed, clock) }})
}

// applyTrain lays over clock the train that was typed, or reads the one it has anew.
func (o *clockOptions) applyTrain(typed func(flag string) bool, clock *sessions.Clock) error {
	if typed("beats-per-tooth") || clock.BeatsPerTooth == 0 {
		clock.BeatsPerTooth = o.beatsPerTooth
	}
	if typed("hour-arbor") || clock.HourArbor == 0 {
		clock.HourArbor = o.hourArbor
	}
	if typed("train") {
		clock.Train, clock.BeatsPerHour = o.train, 0
	}
	if clock.Train == "" {
		return nil
	}
	t, err := train.Parse(clock.Train, clock.BeatsPerTooth, clock.HourArbor)
	if err != nil {
		return err
	}
	clock.BeatsPerHour, _ = t.BeatsPerHour().Float64()
	if err := analysis.CheckBeatsPerHour(clock.BeatsPerHour); err != nil {
		return fmt.Errorf("train %q, hour arbor %d: %w: was a wheel written where its pinion belongs?", clock.Train, clock.HourArbor, err)
	}
	return nil
}

// describe makes a clock of what was typed, by flag and without blanks at its ends, and
// says of each flag what is wrong with it. The name goes by "name".
func (a *app) describe(typed map[string]string) (sessions.Clock, map[string]error) {
	clock, wrong := sessions.Clock{Name: typed["name"]}, map[string]error{}
	note := func(flag string, err error) {
		if err != nil && wrong[flag] == nil {
			wrong[flag] = err
		}
	}
	note("name", quantity.CheckName("clock", clock.Name))
	var o clockOptions
	f := pflag.NewFlagSet("", pflag.ContinueOnError)
	o.flags(f)
	f.VisitAll(func(x *pflag.Flag) {
		if text := typed[x.Name]; text != "" {
			if err := f.Set(x.Name, text); err != nil {
				note(x.Name, errors.New(whyRefused(err)))
			}
		}
	})
	if f.Changed("train") && f.Changed("beats-per-hour") {
		note("beats-per-hour", errOneOfBoth)
	}
	for _, part := range o.parts(a, f.Changed, &clock) {
		note(part.flag, part.apply())
	}
	return clock, wrong
}

func newClockAddCmd(a *app) *cobra.Command {
	var o clockOptions
	c := &cobra.Command{
		Use:   "add NAME",
		Short: "Add a clock to the book",
		Long: `Add a clock to the book. The first one starts the book; once there are several, clock use
says which one commands are about.

The train is written from the barrel to the escape wheel: each wheel's teeth over the
leaves of the pinion it drives, and not of the pinion on its own arbor, as old books may
have it. If you don't know the train, give --beats-per-hour. Without either the beat is
found from what is heard.`,
		Example: `  evenbeat clock add "Longcase, hall" --train 96/8,80/10,75/10,30 --rod steel --nut-pitch 0.8mm`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			clock := sessions.Clock{Name: strings.TrimSpace(args[0])}
			if err := quantity.CheckName("clock", clock.Name); err != nil {
				return err
			}
			if err := o.apply(a, c.Flags(), &clock); err != nil {
				return err
			}
			return a.withBook(c.Context(), making, func(b *book.Book) error {
				clock, err := b.AddClock(c.Context(), clock)
				if err != nil {
					return err
				}
				return a.showClock(c, b, clock)
			})
		},
	}
	o.flags(c.Flags())
	return c
}

func newClockEditCmd(a *app) *cobra.Command {
	var o clockOptions
	c := &cobra.Command{
		Use:     "edit",
		Short:   "Change what the book knows of a clock; what it knew before is kept",
		Example: `  evenbeat clock edit --clock Hall --rod wood`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withClock(c.Context(), writing, func(b *book.Book, clock sessions.Clock) error {
				if err := o.apply(a, c.Flags(), &clock); err != nil {
					return err
				}
				if err := b.EditClock(c.Context(), clock); err != nil {
					return err
				}
				return a.showClock(c, b, clock)
			})
		},
	}
	a.clockFlag(c)
	o.flags(c.Flags())
	return c
}

func newClockUseCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "use NAME",
		Short:   "Set the clock that commands use when none is named",
		Example: `  evenbeat clock use Hall`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.withBook(c.Context(), writing, func(b *book.Book) error {
				clock, err := b.ClockByName(c.Context(), args[0])
				if err != nil {
					return err
				}
				if err := b.UseClock(c.Context(), clock.ID); err != nil {
					return err
				}
				a.say("Commands now use %s.\n", clock.Name)
				return nil
			})
		},
	}
}

func newClockListCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "list",
		Short:   "List the clocks in the book",
		Example: `  evenbeat clock list`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), reading, func(b *book.Book) error {
				all, err := b.Clocks(c.Context())
				if err != nil {
					return err
				}
				used, ok, err := b.CurrentClock(c.Context())
				if err != nil {
					return err
				}
				if a.asJSON {
					return a.answer("", clockList{clockLines(all, used, ok)})
				}
				r := render.New(a.out)
				for _, x := range clockLines(all, used, ok) {
					mark := " "
					if x.InUse {
						mark = "→"
					}
					r.Printf("%s %-24s %8s beats/h  %s\n", mark, x.Name, render.Number(x.BeatsPerHour), x.Train)
				}
				if len(all) == 0 {
					r.Say("No clock yet: add one with evenbeat clock add NAME.")
				}
				return r.Err()
			})
		},
	}
}

type clockList struct {
	Clocks []clockLine `json:"clocks"` // all in the book, as they were added
}

type clockLine struct {
	Name         string  `json:"name"`                     // as the book has it
	BeatsPerHour float64 `json:"beats_per_hour,omitempty"` // what the clock should beat
	Train        string  `json:"train,omitempty"`          // teeth over leaves, from the barrel to the escape wheel
	InUse        bool    `json:"in_use,omitempty"`         // commands that name no clock mean this one
}

func clockLines(all []sessions.Clock, used sessions.Clock, ok bool) []clockLine {
	lines := make([]clockLine, len(all))
	for i, x := range all {
		lines[i] = clockLine{x.Name, x.BeatsPerHour, x.Train, ok && x.ID == used.ID}
	}
	return lines
}

func newClockShowCmd(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:     "show",
		Short:   "What the book knows of a clock, and what follows from its train",
		Example: `  evenbeat clock show --clock Hall --json`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				return a.showClock(c, b, clock)
			})
		},
	}
	a.clockFlag(c)
	return c
}

// showClock tells what follows from what the book knows of a clock.
func (a *app) showClock(c *cobra.Command, b *book.Book, clock sessions.Clock) error {
	rec, err := b.Record(c.Context(), clock.ID, book.Sessions, book.Readings)
	if err != nil {
		return err
	}
	f, err := a.clockFindings(rec)
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.answer(clock.Name, f)
	}
	return render.Clock(a.out, f, a.units(), a.zone(clock))
}

// clockFindings finds what follows from what a record tells of its clock.
func (a *app) clockFindings(rec sessions.Record) (analysis.ClockFindings, error) {
	var opt analysis.ClockOptions
	var err error
	if opt.Gravity, err = a.gravity(); err != nil {
		return analysis.ClockFindings{}, err
	}
	// What no spring can be, the command spring refuses. Of several, the barrel's drives the going train.
	if springs, err := a.findSprings(a.byPlans(rec)); err == nil && (len(springs) == 1 || len(springs) > 1 && springs[0].Part == "barrel") {
		opt.Spring = &springs[0]
	}
	return analysis.Clock(rec, opt)
}

// gravity returns the gravity where the clock stands, as the settings tell it; the
// zero value where they don't.
func (a *app) gravity() (quantity.Value, error) {
	p := a.loaded.Settings.Pendulum
	switch {
	case p.GravityMS2 != nil:
		return quantity.Value{V: *p.GravityMS2, U: p.GravityUMGal * 1e-5}, nil
	case p.LatitudeDeg != nil:
		return pendulum.Gravity(*p.LatitudeDeg, p.HeightM)
	}
	return quantity.Value{}, nil
}
