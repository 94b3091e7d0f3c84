package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/analysis/train"
	"evenbeat/devices/simulate"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type demoOptions struct {
	out  string
	days int
	seed uint64
}

func newDemoCmd(a *app) *cobra.Command {
	var o demoOptions
	c := &cobra.Command{
		Use:   "demo",
		Short: "See the whole job done, on simulated instruments",
		Long: `Do the whole job on simulated instruments behind real pseudo-terminals: measure a
barrel and its spring, time the clock, let it go for a week, and write the book, the
job sheet and the charts. The findings are printed beside the simulation's truth. The
clock, its owner's bench and every figure are invented.`,
		Example: `  evenbeat demo --out demo --seed 7`,
		Args:    cobra.NoArgs,
		RunE:    func(c *cobra.Command, _ []string) error { return a.demo(c.Context(), o) },
	}
	f := c.Flags()
	f.StringVar(&o.out, "out", "", "the `DIR`ectory to write into; it is made if need be ("+usualOut+")")
	f.IntVar(&o.days, "days", 7, "how many days the clock goes, `N`: 1 to 366")
	f.Uint64Var(&o.seed, "seed", 1, "the `S`eed: another one is another clock")
	return c
}

// usualOut is the folder the demo writes into when none is named.
const usualOut = "evenbeat-demo"

// The demo's timetable, in seconds since the start of the scene.
const (
	pressEvery  = 4.0
	timingFrom  = 1800.0 // measured, put together and set going by then
	timingFor   = 3600.0
	checksFrom  = 6000.0
	checkEvery  = 43200.0
	airEvery    = 3600.0
	secondsADay = 86400.0
)

func (a *app) demo(ctx context.Context, o demoOptions) error {
	sc, err := simulate.NewScenario(o.seed, o.days)
	if err != nil {
		return badCall("--days: %w", err)
	}
	name, err := o.book()
	if err != nil {
		return err
	}
	s, err := newScene(a, sc, name)
	if err != nil {
		return err
	}
	a.say("An invented clock, %s, on simulated instruments (seed %d).\n", sc.Name, o.seed)
	return s.withBook(ctx, true, func(b *book.Book) error {
		clock, f, err := s.play(ctx, b)
		if err != nil {
			return err
		}
		if err := s.writeAll(ctx, filepath.Dir(name), b, clock, f); err != nil {
			return err
		}
		return s.tell(clock, f)
	})
}

// book makes the folder and returns the name of the book in it. A book that is
// there already is never touched: a folder that was named is then refused, and
// beside the usual one another is made.
func (o demoOptions) book() (string, error) {
	dir := o.out
	if dir == "" {
		dir = usualOut
	}
	for n := 2; ; n++ {
		name := filepath.Join(dir, "book.db")
		_, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return name, asCall(os.MkdirAll(dir, 0o777))
		}
		if err != nil {
			return "", asCall(err)
		}
		if o.out != "" || n > 99 {
			return "", badCall("%s is there already: name another --out, or take it away first", name)
		}
		dir = fmt.Sprintf("%s-%d", usualOut, n)
	}
}

// play does the whole job: the clock is added and measured, timed, and let go for
// its days; then all is found that its record tells.
func (s *scene) play(ctx context.Context, b *book.Book) (sessions.Clock, plots.Findings, error) {
	var none plots.Findings
	clock, err := b.AddClock(ctx, sessions.Clock{Name: s.sc.Name, Train: s.sc.Train, BeatsPerTooth: train.UsualBeatsPerTooth, HourArbor: s.sc.HourArbor,
		BeatsPerHour: s.sc.Clock.BeatsPerHour, Rod: s.sc.Rod, NutPitch: s.sc.NutPitch, Zone: "UTC"})
	if err != nil {
		return clock, none, err
	}
	for _, step := range []struct {
		what string
		do   func(context.Context, *book.Book, sessions.Clock) error
	}{
		{"measuring the barrel and its spring", s.measureSpring},
		{"timing the clock for an hour", s.timeClock},
		{"letting it go for days", s.letGo},
	} {
		began := time.Now()
		if err := step.do(ctx, b, clock); err != nil {
			return clock, none, fmt.Errorf("%s: %w", step.what, err)
		}
		s.loud.say("  %-38s done in %.1f s%s\n", step.what, time.Since(began).Seconds(), s.line)
		s.line = ""
	}
	f, err := s.gather(ctx, b, clock)
	return clock, f, err
}

// writeAll writes the sheet and every chart the demo promises.
func (s *scene) writeAll(ctx context.Context, dir string, b *book.Book, clock sessions.Clock, f plots.Findings) error {
	err := writeWhole(filepath.Join(dir, "sheet.html"), func(w io.Writer) error { return s.writeSheet(ctx, w, b, clock) })
	for _, kind := range plots.Kinds() {
		if err != nil {
			return err
		}
		var fig plots.Figure
		if fig, err = plots.Draw(kind, f); err == nil {
			err = errors.Join(fig.Write(filepath.Join(dir, kind+".svg")), fig.Write(filepath.Join(dir, kind+".png")))
		}
	}
	if err == nil {
		s.say("  Written to %s: book.db, sheet.html and the charts.\n\n", dir)
	}
	return err
}
