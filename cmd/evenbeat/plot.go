package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/analysis/spring"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newPlotCmd(a *app) *cobra.Command {
	var out string
	var data stabilityOptions
	var from, part string
	var width int
	c := &cobra.Command{
		Use:   "plot KIND",
		Short: "Draw one figure from the record",
		Long: `Draw one figure: ` + strings.Join(plots.Kinds(), ", ") + `. The file's ending
names the format: .svg, .png or .pdf. --width lays it out for a screen: for a phone,
what stands side by side on paper stands in a column, with larger words.`,
		Example: `  evenbeat plot barrel --out barrel.svg
  evenbeat plot turns --part "striking barrel" --out turns.pdf
  evenbeat plot going --width 390 --out going.svg
  evenbeat plot stability --out s.png --file phase.txt --data phase --interval 1`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return badCall("--out: name the file to write, such as %s.svg", args[0])
			}
			switch strings.ToLower(filepath.Ext(out)) {
			case ".svg", ".png", ".pdf":
			default:
				return badCall("--out %s: end the name in .svg, .png or .pdf", out)
			}
			if from != "" {
				s, err := a.findStability(c, from, data)
				if err != nil {
					return err
				}
				return a.draw(args[0], plots.Findings{Stability: &s, Units: a.units(), Width: width}, out)
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				f, err := a.gather(c.Context(), b, clock)
				if err != nil {
					return err
				}
				if f.Spring, err = springOf(args[0], f, part); err != nil {
					return err
				}
				f.Width = width
				return a.draw(args[0], f, out)
			})
		},
	}
	a.clockFlag(c)
	c.Flags().StringVar(&out, "out", "", "the `FILE` to write: .svg, .png or .pdf")
	c.Flags().StringVar(&from, "file", "", "for stability: draw this `FILE` instead of the record")
	c.Flags().StringVar(&part, "part", "", "for barrel and turns: the `PART` (barrel, or the only one, unless named)")
	c.Flags().IntVar(&width, "width", 0, fmt.Sprintf("for a screen so many CSS `PIXELS` wide, %d to %d (else for a page)", plots.MinWidth, plots.MaxWidth))
	data.flags(c)
	return c
}

// springOf returns the spring that a kind of figure shows: that of the part, or without a
// name the barrel's or the only one; nil where none was measured.
func springOf(kind string, f plots.Findings, part string) (*spring.Result, error) {
	if kind != "barrel" && kind != "turns" {
		if part != "" {
			return nil, badCall("--part: only barrel and turns are drawn of a part")
		}
		return f.Spring, nil
	}
	if f.Spring == nil || part == "" && (f.Spring.Part == "barrel" || len(f.Others) == 0) || part == f.Spring.Part {
		return f.Spring, nil
	}
	parts := f.Spring.Part
	for i, s := range f.Others {
		if s.Part == part {
			return &f.Others[i], nil
		}
		parts += ", " + s.Part
	}
	if part == "" {
		return nil, badCall("barrels of several parts were measured (%s): name one with --part", parts)
	}
	return nil, badCall("--part %s: its bore was not measured: name one whose bore was, %s", part, parts)
}

// draw writes one figure.
func (a *app) draw(kind string, f plots.Findings, out string) error {
	fig, err := plots.Draw(kind, f)
	if err != nil {
		return asCall(err)
	}
	if err := a.writeFigure(fig, out); err != nil {
		return err
	}
	a.say("%s: %s\n", out, fig.Title)
	return nil
}

// writeFigure writes a figure to a file, in the format of its ending.
func (a *app) writeFigure(fig plots.Figure, out string) error {
	data, err := fig.Encode(out)
	if err != nil {
		return asCall(err)
	}
	return a.writeOut(out, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}
