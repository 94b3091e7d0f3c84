package main

import (
	"context"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newSheetCmd(a *app) *cobra.Command {
	var out string
	var customer bool
	c := &cobra.Command{
		Use:   "sheet",
		Short: "Write the job sheet: one HTML file that prints well",
		Long: `Write the job sheet: what was found, what to do next, and the record behind it. Where
several barrels were measured, it has the spring of each. With --customer write the one
page for the customer instead: what was wrong, what was done, how the clock goes now,
and when to wind it.`,
		Example: `  evenbeat sheet --out hall.html
  evenbeat sheet --customer --out for-the-customer.html`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if out == "" {
				return badCall("--out: name the file to write, such as sheet.html")
			}
			if ext := strings.ToLower(filepath.Ext(out)); slices.Contains([]string{".pdf", ".png", ".svg"}, ext) {
				return badCall("--out %s: the sheet is HTML: end the name in .html, and print it from the browser", out)
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				err := a.writeOut(out, func(w io.Writer) error { return a.writeSheet(c.Context(), w, b, clock, customer) })
				if err != nil {
					return err
				}
				what := "the job sheet"
				if customer {
					what = "the customer's page"
				}
				a.say("%s: %s of %s.\n", out, what, clock.Name)
				return nil
			})
		},
	}
	a.clockFlag(c)
	c.Flags().BoolVar(&customer, "customer", false, "write the customer's page")
	c.Flags().StringVar(&out, "out", "", "the HTML `FILE` to write")
	return c
}

// writeSheet writes the job sheet of a clock from all that its record tells.
func (a *app) writeSheet(ctx context.Context, w io.Writer, b *book.Book, clock sessions.Clock, customer bool) error {
	f, err := a.gather(ctx, b, clock)
	if err != nil {
		return err
	}
	return a.setSheet(w, f, customer)
}

// setSheet writes the job sheet, or the customer's page of it, from all that was found.
func (a *app) setSheet(w io.Writer, f plots.Findings, customer bool) (err error) {
	in := plots.SheetInput{Findings: f, Made: a.now(), Version: version()}
	for _, name := range f.Record.Photos() {
		data, err := readPhoto(filepath.Join(photoFolder(a.loaded.Settings.Book), name))
		if err != nil {
			a.say("Warning: the photograph %s can't be shown: %v.\n", name, err)
		}
		in.Photos = append(in.Photos, plots.Photo{Name: name, Data: data})
	}
	if !customer {
		return plots.Sheet(w, in)
	}
	if in.Winding, err = a.clockFindings(f.Record); err != nil {
		return err
	}
	return plots.CustomerPage(w, in)
}
