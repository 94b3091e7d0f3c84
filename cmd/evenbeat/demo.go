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

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/cmd/evenbeat/internal/demo"
	"evenbeat/cmd/evenbeat/internal/render"
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
	f.StringVar(&o.out, "out", "", "the `DIRECTORY` to write into; made if it is not there ("+usualOut+")")
	f.IntVar(&o.days, "days", 7, "how many days the clock goes, `N`: 1 to 366")
	f.Uint64Var(&o.seed, "seed", 1, "the `SEED`: each one makes another clock")
	return c
}

// usualOut is the folder the demo writes into when none is named.
const usualOut = "evenbeat-demo"

func (a *app) demo(ctx context.Context, o demoOptions) error {
	sc, err := simulate.NewScenario(o.seed, o.days)
	if err != nil {
		return badCall("--days: %w", err)
	}
	name, err := o.book()
	if err != nil {
		return err
	}
	quiet := *a
	quiet.loaded.Settings.Book, quiet.clock = name, ""
	scene, err := demo.New(quiet.bench(), sc)
	if err != nil {
		return err
	}
	a.say("An invented clock, %s, on simulated instruments (seed %d).\n", sc.Name, o.seed)
	return quiet.withBook(ctx, making, func(b *book.Book) error {
		clock, err := scene.Play(ctx, b, a.say)
		if err != nil {
			return err
		}
		f, err := quiet.gather(ctx, b, clock)
		if err != nil {
			return err
		}
		if err := quiet.writeDemo(ctx, filepath.Dir(name), b, clock, f); err != nil {
			return err
		}
		return a.tellDemo(scene, clock, f)
	})
}

// book makes the folder and returns the name of the book in it. An existing book is
// never touched: a named folder that holds one is refused, and beside the usual folder
// another is made.
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

// writeDemo writes the sheet and every chart the demo promises.
func (a *app) writeDemo(ctx context.Context, dir string, b *book.Book, clock sessions.Clock, f plots.Findings) error {
	err := a.writeOut(filepath.Join(dir, "sheet.html"), func(w io.Writer) error { return a.writeSheet(ctx, w, b, clock, false) })
	for _, kind := range plots.Kinds() {
		if err != nil {
			return err
		}
		var fig plots.Figure
		if fig, err = plots.Draw(kind, f); err == nil {
			err = errors.Join(a.writeFigure(fig, filepath.Join(dir, kind+".svg")), a.writeFigure(fig, filepath.Join(dir, kind+".png")))
		}
	}
	if err == nil {
		a.say("  Written to %s: book.db, sheet.html and the charts.\n\n", dir)
	}
	return err
}

// demoFindings is the answer in JSON.
type demoFindings struct {
	Spring *spring.Result    `json:"spring,omitempty"`
	Rate   *beat.Result      `json:"rate,omitempty"`
	Going  *going.Result     `json:"going,omitempty"`
	Truth  []demo.Comparison `json:"truth"` // what was found, beside what the simulation knows
}

// tellDemo prints the findings, and beside them the truth.
func (a *app) tellDemo(scene *demo.Scene, clock sessions.Clock, f plots.Findings) error {
	if a.asJSON {
		return a.answer(clock.Name, demoFindings{f.Spring, f.Rate, f.Going, scene.Compare(f)})
	}
	w := a.out
	if f.Spring != nil {
		if err := render.Spring(w, clock.Name+": the spring", *f.Spring, a.units(), false); err != nil {
			return err
		}
	}
	if f.Rate != nil {
		if _, err := io.WriteString(w, "\n"); err != nil {
			return err
		}
		if err := render.Rate(w, clock.Name+": the beat", *f.Rate, false); err != nil {
			return err
		}
	}
	if f.Going != nil {
		if _, err := io.WriteString(w, "\n"); err != nil {
			return err
		}
		if err := render.Going(w, clock.Name+": the going", *f.Going, time.UTC, false); err != nil {
			return err
		}
	}
	return scene.WriteTruth(w, f)
}
