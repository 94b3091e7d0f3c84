package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions/book"
)

func newBookSalvageCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "salvage FROM TO",
		Short: "Save what is still sound in a damaged book into a new one",
		Long: `Save what is still sound in a damaged book into a new one.

FROM is only read: nothing in it or beside it changes. Close it everywhere else first.
Every row on a page that is sound, and every chunk of beats that is whole, goes into the
new book TO. What is lost is listed. A backup, if you have one, may hold what is lost
here. The exit status is 0 if all was saved, 1 if something is lost.`,
		Example: `  evenbeat book salvage book.db saved.db
  evenbeat --book saved.db clock list`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			rep, err := book.Salvage(c.Context(), args[0], args[1])
			if err != nil {
				return asPlace(err)
			}
			if a.asJSON {
				err = a.answer("", rep)
			} else {
				err = writeSalvaged(render.New(a.out), rep)
			}
			if err == nil && !rep.OK() {
				err = fmt.Errorf("%s: not all of it could be saved: what could is in %s, and a backup may have the rest", rep.From, rep.To)
			}
			return err
		},
	}
}

// mostLost bounds what a person is told at once; JSON has all.
const mostLost = 40

func writeSalvaged(r *render.Report, rep book.Salvaged) error {
	if rep.OK() {
		r.Printf("All of %s was saved in %s.\n", rep.From, rep.To)
	} else {
		r.Printf("What is still sound in %s was saved in %s.\n", rep.From, rep.To)
	}
	r.Printf("  %10s  %10s\n", "saved", "lost")
	for _, t := range rep.Tables {
		more := ""
		if t.Unknown {
			more = ", perhaps more"
		}
		if t.Saved > 0 || t.Lost > 0 || t.Unknown {
			r.Printf("  %10d  %10d  %s%s\n", t.Saved, t.Lost, t.Table, more)
		}
	}
	if !rep.Checksums {
		r.Printf("Its pages have no checksums, so a value may have changed without a sign of it.\n")
	}
	r.List("Lost", "!", rep.Lost[:min(len(rep.Lost), mostLost)])
	if more := len(rep.Lost) - mostLost; more > 0 {
		r.Printf("And %d more: --json lists all.\n", more)
	}
	return r.Err()
}
