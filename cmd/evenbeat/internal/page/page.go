package page

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"strconv"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/port"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// Workshop is what the page knows of the program around it.
type Workshop struct {
	live.Bench
	// Read and Write open the book, hand it to do and close it. Read adds nothing, and
	// Write makes the book if there is none.
	Read, Write func(ctx context.Context, do func(*book.Book) error) error
	// Gather finds all that a clock's record tells.
	Gather func(context.Context, *book.Book, sessions.Clock) (plots.Findings, error)
	// Sheet writes the job sheet, or the customer's page of it.
	Sheet func(w io.Writer, f plots.Findings, customer bool) error
	// Describe makes a clock of what was typed, by the names of clockFields, and says of
	// each what is wrong with it.
	Describe func(typed map[string]string) (sessions.Clock, map[string]error)
	// Judge finds what a clock's readings alone tell.
	Judge func(context.Context, *book.Book, sessions.Clock) (plots.Findings, error)
	// Timing are the options of a session of timing with a clock that begins now.
	Timing func(context.Context, *book.Book, sessions.Clock) (live.TimingOptions, error)
	Ports  func() ([]port.Info, error) // that may be opened
	// ParseTime reads a time, without an offset in a zone, and says what is odd of it.
	ParseTime func(text string, zone *time.Location) (t time.Time, odd string, err error)
	// OddTime says what is unlikely of a time to be recorded, "" for nothing.
	OddTime func(time.Time, sessions.Record) string
	// Token is that of the links of a page that other computers reach; "" is a new one.
	Token string
	Clock string // the clock that is listed first; "" is the one in use
	Now   func() time.Time
}

// Page is the bench page at an address that it listens at.
type Page struct {
	Workshop
	listener *connections
	// name is the host in the address asked for, where that is no number.
	name    string
	token   string // whoever comes must know it; "" on loopback
	limits  limits
	found   shelf[plots.Findings] // by clock
	drawn   shelf[[]byte]         // figures and sheets, by kind, clock and width
	judged  shelf[plots.Findings] // of readings alone, by clock
	sights  sights
	runs    runs
	ears    ears
	streams chan struct{} // one for each stream that is open
	policy  string
	header  []place
}

// limits are how long a browser may take, and how much it may ask for. A drawing doesn't
// count.
type limits struct {
	headers, request, answer, idle time.Duration
	event                          time.Duration // for a browser to take an event
	beat                           time.Duration // between signs of life of a stream
	look                           time.Duration // between looks at whether the book has changed
	ports                          time.Duration // between looks at which ports there are
	end                            time.Duration // for answers that are under way once the page ends
	wait                           time.Duration // for a request, while other connections want room
	connections, streams           int
	head                           int // bytes of a request's head
}

func usual() limits {
	return limits{headers: 5 * time.Second, request: 10 * time.Second, answer: 30 * time.Second, idle: time.Minute,
		event: 5 * time.Second, beat: 15 * time.Second, look: 50 * time.Millisecond, ports: time.Second, end: 500 * time.Millisecond,
		wait: 2 * time.Second, connections: 256, streams: 64, head: 16 << 10}
}

// Listen makes the page at addr, a host and a port. An address that other computers
// reach gets a token, which is part of its links.
func Listen(addr string, w Workshop) (*Page, error) { return listen(addr, w, usual()) }

func listen(addr string, w Workshop, most limits) (*Page, error) {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, err
	}
	p := &Page{Workshop: w, listener: bounded(l, most.connections, most.wait), limits: most, streams: make(chan struct{}, most.streams), policy: policy()}
	if host, _, err := net.SplitHostPort(addr); err == nil && net.ParseIP(host) == nil {
		p.name = host
	}
	if !p.bound().IP.IsLoopback() {
		p.token = cmp.Or(w.Token, rand.Text()) // at least 128 bits
	}
	p.header = p.places()
	return p, nil
}

func (p *Page) bound() *net.TCPAddr { return p.listener.Addr().(*net.TCPAddr) }

// Guarded reports whether the page can be reached only with the token of its links.
func (p *Page) Guarded() bool { return p.token != "" }

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

// Serve serves until ctx ends, and then returns nil within a second, whatever is open.
func (p *Page) Serve(ctx context.Context) error {
	s := &http.Server{
		Handler:           p.handler(),
		ReadHeaderTimeout: p.limits.headers,
		ReadTimeout:       p.limits.request,
		WriteTimeout:      p.limits.answer, // where no handler gives more time
		IdleTimeout:       p.limits.idle,
		MaxHeaderBytes:    p.limits.head,
		BaseContext:       func(net.Listener) context.Context { return ctx },
		ErrorLog:          log.New(p.Log, "", 0),
		ConnState:         p.listener.moved,
	}
	p.runs.begin(ctx)
	defer p.runs.wait(p.limits.end)
	served := make(chan error, 1)
	go func() { served <- s.Serve(p.listener) }()
	select {
	case err := <-served:
		return fmt.Errorf("bench page: %w", err)
	case <-ctx.Done():
	}
	end, cancel := context.WithTimeout(context.WithoutCancel(ctx), p.limits.end)
	defer cancel()
	if err := s.Shutdown(end); err != nil {
		err = s.Close() // cuts off who is still reading
		p.Log.Debug().Err(err).Msg("bench page: ended with answers under way")
	}
	if err := <-served; !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("bench page: %w", err)
	}
	return nil
}
