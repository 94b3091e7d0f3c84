package main

import (
	"context"
	"errors"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// clockFlag gives c the flag --clock.
func (a *app) clockFlag(c *cobra.Command) {
	c.Flags().StringVar(&a.clock, "clock", "", "the clock's `NAME` (else the one in use, or the only one)")
}

// use is what a command does with the book.
type use int

const (
	reading use = iota // it adds nothing, so the book may lie where nothing can be written
	writing
	making // it writes, and makes the book if there is none
)

// withBook opens the book, hands it to do and closes it.
func (a *app) withBook(ctx context.Context, how use, do func(*book.Book) error) error {
	b, err := book.Open(ctx, a.loaded.Settings.Book, book.Options{Create: how == making, Reading: how == reading,
		DailyCopies: int(a.loaded.Settings.Copies), Log: a.log, Now: a.now})
	if err != nil {
		return err
	}
	err = do(b)
	if err == nil {
		err = b.Lost() // what is there was told, and is not all
	}
	return errors.Join(err, b.Close())
}

// withClock is withBook for what concerns one clock: the one named, the one in
// use, or the only one.
func (a *app) withClock(ctx context.Context, how use, do func(*book.Book, sessions.Clock) error) error {
	return a.withBook(ctx, how, func(b *book.Book) error {
		c, err := a.chooseClock(ctx, b)
		if err != nil {
			return err
		}
		return do(b, c)
	})
}

// errNoClock tells that the book holds no clock.
var errNoClock = badCall("the book holds no clock yet: add one with evenbeat clock add NAME")

func (a *app) chooseClock(ctx context.Context, b *book.Book) (sessions.Clock, error) {
	if a.clock != "" {
		return b.ClockByName(ctx, a.clock)
	}
	c, ok, err := b.CurrentClock(ctx)
	if err != nil {
		return c, err
	}
	if ok {
		return c, nil
	}
	all, err := b.Clocks(ctx)
	if err != nil {
		return c, err
	}
	if len(all) == 0 {
		return c, errNoClock
	}
	names := make([]string, len(all))
	for i, x := range all {
		names[i] = strconv.Quote(x.Name)
	}
	return c, badCall("which clock? the book holds %s: name one with --clock, or once for all with evenbeat clock use NAME",
		strings.Join(names, ", "))
}

// recording is what a command does with the book that records in it. A clock that is named
// must exist, and so must its book.
func (a *app) recording() use {
	if a.clock == "" {
		return making
	}
	return writing
}

// withWritableClock is withClock for commands that record. In a book without any
// clock it makes one, named Bench, so that a first reading is never refused.
func (a *app) withWritableClock(ctx context.Context, do func(*book.Book, sessions.Clock) error) error {
	return a.withBook(ctx, a.recording(), func(b *book.Book) error {
		all, err := b.Clocks(ctx)
		if err != nil {
			return err
		}
		if len(all) == 0 && a.clock == "" {
			c, err := b.AddClock(ctx, newClock(benchClock))
			if err != nil {
				return err
			}
			a.say("The book held no clock yet: this is kept under Bench. Add your own with evenbeat clock add NAME.\n")
			return do(b, c)
		}
		c, err := a.chooseClock(ctx, b)
		if err != nil {
			return err
		}
		return do(b, c)
	})
}
