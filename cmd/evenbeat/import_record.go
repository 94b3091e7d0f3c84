package main

import (
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"slices"
	"strings"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions/book"
)

// whole returns what reads a clock's whole record, if all kinds of row are wanted. If the
// book has another clock of that name, it makes no book: the rows alone go to that clock,
// as those of any file do.
func (i *importing) whole(ctx context.Context, kinds []string) func(*json.Decoder, func(), string) (record, error) {
	if !slices.Equal(kinds, tables) {
		return nil
	}
	into := i.loaded.Settings.Book
	return func(d *json.Decoder, began func(), clock string) (r record, err error) {
		r.path, r.n, err = book.ReadExport(ctx, d, began, into)
		if err != nil || !i.hasBook() {
			return r, err
		}
		clash, err := book.Clash(ctx, into, r.path, clock)
		if err == nil && clash {
			i.say("The book has another train for %s: the readings, checks, notes, air and newest beats are added to it, the rest of the record is not.\n", clock)
			return record{}, book.RemoveBook(r.path)
		}
		return r, err
	}
}

func (i *importing) hasBook() bool {
	_, err := os.Stat(i.loaded.Settings.Book)
	return !errors.Is(err, fs.ErrNotExist)
}

// bring merges a clock's whole record into the book, or makes the book of it if there is none.
func (i *importing) bring(ctx context.Context, file rowFile) error {
	if i.clock != "" && !strings.EqualFold(i.clock, file.clock) {
		return i.wrong(badCall("it is of the clock %q, and --clock names %s: leave --clock out", file.clock, i.clock))
	}
	into := i.loaded.Settings.Book
	if !i.hasBook() {
		if _, err := book.Restore(ctx, file.path, into); err != nil {
			return err
		}
		i.done = true
		i.tell(book.Imported{New: file.n}, file.clock, "")
		return nil
	}
	m, err := book.Merge(ctx, into, file.path, book.Options{Log: i.log, Now: i.now})
	if err != nil {
		return err
	}
	i.done = true
	i.tell(book.Imported{New: m.Added, Known: m.Known}, file.clock, "")
	m.From = i.name
	if m.Added > 0 {
		return writeMerged(render.New(i.err), m)
	}
	return nil
}
