package main

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newSheetCmd(a *app) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:     "sheet",
		Short:   "Write the job sheet: one HTML file that prints well",
		Example: `  evenbeat sheet --out hall.html`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if out == "" {
				return badCall("--out: name the file to write, such as sheet.html")
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				err := a.writeOut(out, func(w io.Writer) error { return a.writeSheet(c.Context(), w, b, clock) })
				if err == nil {
					a.say("%s: the job sheet of %s.\n", out, clock.Name)
				}
				return err
			})
		},
	}
	a.clockFlag(c)
	c.Flags().StringVar(&out, "out", "", "the HTML `FILE` to write")
	return c
}

// writeSheet writes the job sheet of a clock from all that its record tells.
func (a *app) writeSheet(ctx context.Context, w io.Writer, b *book.Book, clock sessions.Clock) error {
	f, err := a.gather(ctx, b, clock)
	if err != nil {
		return err
	}
	return plots.Sheet(w, plots.SheetInput{Findings: f, Made: a.now(), Version: version()})
}
