package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions/book"
)

func newBookCmd(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "book",
		Short: "Check, back up, restore, salvage and merge books",
		Example: `  evenbeat book check
  evenbeat book backup /media/stick/book-2026-03-01.db
  evenbeat book salvage damaged.db saved.db
  evenbeat book merge /media/stick/book.db`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return badCall("book: say what: check, backup, restore, salvage or merge")
		},
	}
	c.AddCommand(newBookCheckCmd(a), newBookBackupCmd(a), newBookRestoreCmd(a), newBookSalvageCmd(a), newBookMergeCmd(a))
	return c
}

func newBookCheckCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "check",
		Short:   "Read the whole book and say whether it is sound",
		Example: `  evenbeat book check --book /media/stick/book.db`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withBook(c.Context(), reading, func(b *book.Book) error {
				rep, err := b.Check(c.Context())
				if err != nil {
					return err
				}
				if a.asJSON {
					if err := a.answer("", rep); err != nil {
						return err
					}
				} else if err := writeBookReport(render.New(a.out), rep); err != nil {
					return err
				}
				if len(rep.Problems) > 0 {
					return fmt.Errorf("%s: %d %s found: restore a backup with evenbeat book restore, or save what is whole with evenbeat book salvage", a.loaded.Settings.Book, len(rep.Problems), quantity.Plural(int64(len(rep.Problems)), "problem", "problems"))
				}
				return nil
			})
		},
	}
}

func newBookBackupCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "backup FILE",
		Short:   "Copy the book with its photographs, even while it is in use",
		Example: `  evenbeat book backup /media/stick/book-2026-03-01.db`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.withBook(c.Context(), reading, func(b *book.Book) error {
				if err := b.Backup(c.Context(), args[0]); err != nil {
					return asPlace(err)
				}
				a.say("%s is copied to %s and was read back.\n", a.loaded.Settings.Book, args[0])
				return a.carryPhotos(c.Context(), b, b.Path(), args[0], nil)
			})
		},
	}
}

func newBookRestoreCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "restore FILE",
		Short:   "Put a backup in the book's place; the old book is kept beside it",
		Example: `  evenbeat book restore /media/stick/book-2026-03-01.db`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			kept, err := book.Restore(c.Context(), args[0], a.loaded.Settings.Book)
			if err != nil {
				return err
			}
			a.say("%s now holds what %s does.\n", a.loaded.Settings.Book, args[0])
			if kept != "" {
				a.say("The book that was there is kept as %s.\n", kept)
			}
			return a.bringPhotos(c.Context(), args[0], nil)
		},
	}
}

// bringPhotos copies the photographs from beside another book to beside the book, some of them
// under new names.
func (a *app) bringPhotos(ctx context.Context, from string, renamed map[string]string) error {
	return a.withBook(ctx, reading, func(b *book.Book) error { return a.carryPhotos(ctx, b, from, b.Path(), renamed) })
}

func writeBookReport(r *render.Report, rep book.Report) error {
	r.Printf("%s, layout %d\n", rep.Path, rep.Layout)
	for _, c := range rep.Counts {
		r.Printf("  %10d  %s\n", c.N, quantity.Plural(c.N, strings.TrimSuffix(c.Thing, "s"), c.Thing))
	}
	r.List("Problems", "!", rep.Problems)
	if rep.LogPages > 0 {
		r.Printf("Its log holds %d %s that the file doesn't hold yet: copy it with evenbeat book backup.\n", rep.LogPages, quantity.Plural(rep.LogPages, "page", "pages"))
	}
	if rep.OK() {
		r.Printf("The book is sound.\n")
	}
	return r.Err()
}
