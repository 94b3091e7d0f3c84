package main

import (
	"context"
	"errors"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/page"
	"evenbeat/devices/port"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newBenchCmd(a *app) *cobra.Command {
	var addr, tokenFile string
	c := &cobra.Command{
		Use:   "bench",
		Short: "Open the bench page in a browser: measure, time, check the dial, read the job sheet",
		Long: `Show the clocks in the book in a browser: how each goes, what to do next, its
figures and job sheet. Measure and time there too, by an instrument at a port of this
computer: what you begin goes on when the browser is closed, and ends with this program.
A page that is open follows the book. Only this computer reaches it. With --addr
0.0.0.0:7230 a tablet or phone on your network can too, but only by the link that is
shown, also as a code to point a phone at. Its token changes at every start, unless a
file keeps it. What goes over the network is not encrypted. A program that watches many
clocks finds them at /metrics, in the OpenMetrics text format; it sends the token as a
bearer token.`,
		Example: `  evenbeat bench
  evenbeat bench --addr 0.0.0.0:7230
  evenbeat bench --addr 0.0.0.0:7230 --token-file ~/.evenbeat-token`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.serveBench(c.Context(), addr, tokenFile) },
	}
	a.clockFlag(c)
	c.Flags().StringVar(&addr, "addr", "127.0.0.1:7230", "the `ADDRESS` to listen on")
	c.Flags().StringVar(&tokenFile, "token-file", "", "keep the link's token in a `FILE` that you alone may read, made if need be")
	return c
}

// serveBench serves until ctx ends.
func (a *app) serveBench(ctx context.Context, addr, tokenFile string) error {
	w := page.Workshop{Bench: a.bench(), Gather: a.gather, Sheet: a.setSheet, Judge: a.judgeReadings, Timing: a.timingOptions, Ports: a.bench().Ports, Describe: a.describe, Now: a.now, ParseTime: parseTime,
		OddTime: func(t time.Time, rec sessions.Record) string { return a.oddTime(t, rec, true) },
		Read:    func(ctx context.Context, do func(*book.Book) error) error { return a.withBook(ctx, reading, do) },
		Write:   func(ctx context.Context, do func(*book.Book) error) error { return a.withBook(ctx, making, do) },
	}
	// What is wrong with the book, and a clock that isn't there, are reported before anything
	// is served. A book that isn't there begins with the first clock that is added.
	err := a.withBook(ctx, reading, func(b *book.Book) error {
		if a.clock == "" {
			return nil
		}
		c, err := b.ClockByName(ctx, a.clock)
		w.Clock = c.Name
		return err
	})
	if e, ok := errors.AsType[*book.Error](err); err != nil && (a.clock != "" || !ok || e.Kind != book.KindMissing) {
		return err
	}
	if tokenFile != "" {
		if w.Token, err = keptToken(tokenFile); err != nil {
			return err
		}
	}
	p, err := page.Listen(addr, w)
	if err != nil {
		return badCall("--addr %s can't be used: write a free one like 127.0.0.1:7230 (%w)", addr, err)
	}
	links := p.Links()
	a.say("The bench page is at %s (Ctrl-C ends it).\n", strings.Join(links, " or "))
	if p.Guarded() && a.colour(a.err) {
		code, err := page.Code(links[0])
		if err != nil {
			return err
		}
		if _, err := io.WriteString(a.err, code); err != nil {
			return err
		}
	}
	return p.Serve(ctx)
}

// timingOptions are those of a session of timing that the page starts.
func (a *app) timingOptions(ctx context.Context, b *book.Book, clock sessions.Clock) (o live.TimingOptions, err error) {
	o = live.TimingOptions{Now: port.HostClock(), EstimateEvery: time.Second}
	if o.Rate, err = a.rateOptions(gateFlag{}); err != nil {
		return o, err
	}
	return o, a.tellTiming(ctx, b, clock, &o)
}
