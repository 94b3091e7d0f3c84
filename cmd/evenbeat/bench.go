package main

import (
	"bytes"
	"context"
	"errors"
	"net"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newBenchCmd(a *app) *cobra.Command {
	var addr string
	c := &cobra.Command{
		Use:   "bench",
		Short: "Show the job sheet in the browser, up to date each time the page is loaded",
		Example: `  evenbeat bench
  evenbeat bench --addr 127.0.0.1:8000`,
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
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return badCall("--addr %s can't be listened at: write a free one like 127.0.0.1:7230 (%w)", addr, err)
	}
	s := &http.Server{
		Handler:           http.HandlerFunc(a.benchPage),
		ReadHeaderTimeout: 5 * time.Second,
		BaseContext:       func(net.Listener) context.Context { return ctx },
	}
	a.say("The bench page is at http://%s/ (Ctrl-C ends it).\n", l.Addr())
	served := make(chan error, 1)
	go func() { served <- s.Serve(l) }()
	select {
	case err := <-served:
		return err
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer cancel()
	err = s.Shutdown(end)
	if serr := <-served; !errors.Is(serr, http.ErrServerClosed) {
		err = errors.Join(err, serr)
	}
	return err
}

func (a *app) benchPage(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path != "/" {
		http.NotFound(w, r)
		return
	}
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		http.Error(w, "this page is only read", http.StatusMethodNotAllowed)
		return
	}
	var page bytes.Buffer
	err := a.withClock(r.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
		return a.writeSheet(r.Context(), &page, b, clock)
	})
	if err != nil {
		a.log.Error().Err(err).Msg("bench page")
		http.Error(w, oneLine(err), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'")
	if _, err := w.Write(page.Bytes()); err != nil {
		a.log.Debug().Err(err).Msg("bench page: the browser went away")
	}
}
