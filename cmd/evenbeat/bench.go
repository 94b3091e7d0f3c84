package main

import (
	"bytes"
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/page"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newBenchCmd(a *app) *cobra.Command {
	var addr string
	c := &cobra.Command{
		Use:   "bench",
		Short: "Show the job sheet in the browser, up to date each time the page is loaded",
		Long: `Show the job sheet in the browser, drawn anew whenever the book has new rows. Only
this computer reaches the page. With --addr 0.0.0.0:7230 a tablet or phone in your
network does too, but only by the link that is shown: its token changes at every
start. What goes over the network is not encrypted.`,
		Example: `  evenbeat bench
  evenbeat bench --addr 0.0.0.0:7230`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.serveBench(c.Context(), addr) },
	}
	a.clockFlag(c)
	c.Flags().StringVar(&addr, "addr", "127.0.0.1:7230", "the `ADDRESS` to listen at")
	return c
}

// serveBench serves until ctx ends.
func (a *app) serveBench(ctx context.Context, addr string) error {
	// A missing book or clock is reported before anything is served.
	if err := a.withClock(ctx, reading, func(*book.Book, sessions.Clock) error { return nil }); err != nil {
		return err
	}
	p, err := page.Listen(addr, a.lookAtSheet, a.log)
	if err != nil {
		return badCall("--addr %s can't be listened at: write a free one like 127.0.0.1:7230 (%w)", addr, err)
	}
	a.say("The bench page is at %s (Ctrl-C ends it).\n", strings.Join(p.Links(), " or "))
	return p.Serve(ctx)
}

// lookAtSheet writes the job sheet, unless the clock's book is as it was drawn from.
func (a *app) lookAtSheet(ctx context.Context, drawn string) (from string, sheet []byte, err error) {
	err = a.withClock(ctx, reading, func(b *book.Book, clock sessions.Clock) error {
		newest, err := b.Newest(ctx)
		if err != nil {
			return err
		}
		if from = fmt.Sprint(clock.ID, newest); from == drawn {
			return nil
		}
		var out bytes.Buffer
		err = a.writeSheet(ctx, &out, b, clock)
		sheet = out.Bytes()
		return err
	})
	return from, sheet, err
}
