package main

import (
	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions/book"
)

func newBookMergeCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "merge OTHER",
		Short: "Add what another book holds, and nothing twice",
		Long: `Add to the book everything that OTHER holds and this one doesn't. OTHER stays as it
is, and a copy of this book as it was is kept beside it. Close this book everywhere else
first.

Two rows are the same if they say the same: clock, time, value and text. That holds even
if one came through an export and an import. Two clocks are the same if they were added
and described at the same time, or else have the same name; where their trains or beats
differ, the other one is added as a clock of its own. What was taken back in either book
is taken back. Where a clock was described or a session moved in both, the newest counts.
The clock in use stays. Where each book has another photograph of the same name, both
are kept: the other's gets a name of its own.`,
		Example: `  evenbeat book merge /media/stick/book.db
  evenbeat book merge workshop.db --book ~/clocks/book.db`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			into := a.loaded.Settings.Book
			photos, err := otherPhotos(photoFolder(into), photoFolder(args[0]))
			if err != nil {
				return err
			}
			m, err := book.Merge(c.Context(), into, args[0], book.Options{Log: a.log, Now: a.now, Photos: photos})
			if err != nil {
				return err
			}
			if err := a.bringPhotos(c.Context(), args[0], photos); err != nil {
				return err
			}
			if a.asJSON {
				return a.answer("", m)
			}
			return writeMerged(render.New(a.out), m)
		},
	}
}

// mergedThings names the tables of the book for a person; what isn't in it goes unsaid.
var mergedThings = map[string]string{
	"clocks": "clocks", "sessions": "sessions", "readings": "readings", "beat_chunks": "beats", "checks": "checks",
	"events": "notes", "air": "air samples", "particulars": "particulars", "marks": "readings taken back", "withdrawals": "other rows taken back", "session_moves": "sessions moved",
}

func writeMerged(r *render.Report, m book.Merged) error {
	if m.Added == 0 {
		r.Printf("All of %s is in %s already: nothing was added.\n", m.From, m.Into)
		return r.Err()
	}
	r.Printf("What is new in %s was added to %s.\n", m.From, m.Into)
	r.Printf("  %10s  %10s\n", "added", "known")
	for _, t := range m.Tables {
		if thing := mergedThings[t.Table]; thing != "" && t.Added+t.Known > 0 {
			r.Printf("  %10d  %10d  %s\n", t.Added, t.Known, thing)
		}
	}
	for _, c := range m.Clocks {
		switch {
		case c.New && c.Name != c.From:
			r.Printf("%s is another clock than the one here of that name: it is kept as %s.\n", c.From, c.Name)
		case c.Joined:
			r.Printf("%s was added to both books: by its name it is taken to be one clock.\n", c.Name)
		}
	}
	r.Printf("The book as it was is kept as %s.\n", m.Copy)
	return r.Err()
}
