// Package page serves the bench page to browsers. It only reads: a request changes
// nothing in the book.
package page

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log"
	"net"
	"net/http"
	"strconv"
	"time"

	"github.com/rs/zerolog"
)

// Page is the bench page at an address that it listens at.
type Page struct {
	listener net.Listener
	// name is the host in the address asked for, where that is no number.
	name  string
	token string // whoever comes must know it; "" on loopback
	sheet drawing
	log   zerolog.Logger
}

// Listen makes the page at addr, a host and a port. An address that other computers
// reach gets a token, which is part of its links.
func Listen(addr string, sheet Look, log zerolog.Logger) (*Page, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, err
	}
	p := &Page{listener: l, sheet: newDrawing(sheet), log: log}
	if host, _, err := net.SplitHostPort(addr); err == nil && net.ParseIP(host) == nil {
		p.name = host
	}
	if !p.bound().IP.IsLoopback() {
		p.token = rand.Text() // at least 128 bits
	}
	return p, nil
}

func (p *Page) bound() *net.TCPAddr { return p.listener.Addr().(*net.TCPAddr) }

// Links are the addresses to open in a browser. Where the page listens at every address,
// there is one for each that another computer may reach.
func (p *Page) Links() []string {
	hosts := []string{p.bound().IP.String()}
	if p.name != "" {
		hosts[0] = p.name
	} else if p.bound().IP.IsUnspecified() {
		hosts = reachable()
	}
	for i, h := range hosts {
		hosts[i] = "http://" + net.JoinHostPort(h, strconv.Itoa(p.bound().Port)) + "/"
		if p.token != "" {
			hosts[i] += "?" + tokenName + "=" + p.token
		}
	}
	return hosts
}

// reachable lists this computer's addresses in its networks, or its own for itself where
// it has none.
func reachable() (hosts []string) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		all = nil
	}
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok && n.IP.IsGlobalUnicast() {
			hosts = append(hosts, n.IP.String())
		}
	}
	if len(hosts) == 0 {
		return []string{"127.0.0.1"}
	}
	return hosts
}

// How long a browser may take. A drawing doesn't count.
const (
	headersWithin = 5 * time.Second
	requestWithin = 10 * time.Second
	answerWithin  = 30 * time.Second
	idleFor       = time.Minute
	// endWithin is how long answers that are under way may take once the page ends.
	endWithin = 500 * time.Millisecond
)

const mostHeaders = 16 << 10 // bytes

// Serve serves until ctx ends, and then returns nil within a second, whatever is open.
func (p *Page) Serve(ctx context.Context) error {
	s := &http.Server{
		Handler:           p.handler(),
		ReadHeaderTimeout: headersWithin,
		ReadTimeout:       requestWithin,
		WriteTimeout:      answerWithin,
		IdleTimeout:       idleFor,
		MaxHeaderBytes:    mostHeaders,
		BaseContext:       func(net.Listener) context.Context { return ctx },
		ErrorLog:          log.New(p.log, "", 0),
	}
	served := make(chan error, 1)
	go func() { served <- s.Serve(p.listener) }()
	select {
	case err := <-served:
		return fmt.Errorf("bench page: %w", err)
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), endWithin)
	defer cancel()
	if err := s.Shutdown(end); err != nil {
		err = s.Close() // cuts off who is still reading
		p.log.Debug().Err(err).Msg("bench page: ended with answers under way")
	}
	if err := <-served; !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("bench page: %w", err)
	}
	return nil
}

func (p *Page) handler() http.Handler {
	places := http.NewServeMux()
	places.HandleFunc("GET /{$}", p.showSheet)
	return p.guard(http.NewCrossOriginProtection().Handler(places))
}

func (p *Page) showSheet(w http.ResponseWriter, r *http.Request) {
	c := http.NewResponseController(w)
	// The request has been read, and the drawing may take longer than that may.
	if err := c.SetReadDeadline(time.Time{}); err != nil {
		p.log.Debug().Err(err).Msg("bench page")
	}
	page, err := p.sheet.get(r.Context())
	switch {
	case r.Context().Err() != nil:
		http.Error(w, "The page has ended.", http.StatusServiceUnavailable)
		return
	case err != nil:
		p.log.Error().Err(err).Msg("bench page")
		http.Error(w, "The sheet can't be made. The terminal of evenbeat bench tells why.", http.StatusInternalServerError)
		return
	}
	if err := c.SetWriteDeadline(time.Now().Add(answerWithin)); err != nil {
		p.log.Debug().Err(err).Msg("bench page")
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if _, err := w.Write(page); err != nil {
		p.log.Debug().Err(err).Msg("bench page: the browser went away")
	}
}
