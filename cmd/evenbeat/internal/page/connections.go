package page

import (
	"net"
	"net/http"
	"slices"
	"sync"
	"time"
)

// connections is a listener that has so many connections open and no more. Each takes a
// number by which the computer knows what is open, and a serial port whose number is above
// 1023 can't be waited for.
//
// While it is full, further ones wait with the operating system. One that has waited for a
// request longer than it may then makes room: a browser opens it anew when it needs it.
type connections struct {
	net.Listener
	room   chan struct{} // whoever has put something in may be open
	may    time.Duration // wait for a request while others want room
	mu     sync.Mutex
	idle   []idle // the longest first
	closed chan struct{}
	close  sync.Once
}

// idle is a connection that waits for a request.
type idle struct {
	net.Conn
	since time.Time
}

// connection gives its room back when it is closed.
type connection struct {
	net.Conn
	left sync.Once
	from *connections
}

func bounded(l net.Listener, most int, may time.Duration) *connections {
	return &connections{Listener: l, room: make(chan struct{}, most), may: may, closed: make(chan struct{})}
}

// Accept returns the next connection once there is room for it.
func (l *connections) Accept() (net.Conn, error) {
	for open := false; !open; {
		var again <-chan time.Time
		if len(l.room) == cap(l.room) {
			again = time.After(l.makeRoom())
		}
		select {
		case l.room <- struct{}{}:
			open = true
		case <-again:
		case <-l.closed:
			return nil, net.ErrClosed
		}
	}
	c, err := l.Listener.Accept()
	if err != nil {
		<-l.room
		return nil, err
	}
	return &connection{Conn: c, from: l}, nil
}

// makeRoom closes the connection that has waited longest for a request, if it may not wait
// any longer. It returns when to try again.
func (l *connections) makeRoom() time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.idle) == 0 {
		return l.may
	}
	if left := l.may - time.Since(l.idle[0].since); left > 0 {
		return left
	}
	_ = l.idle[0].Close() // the other side finds out
	l.idle = l.idle[1:]
	return 0
}

// moved follows what a connection is at, for an http.Server.
func (l *connections) moved(c net.Conn, to http.ConnState) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.idle = slices.DeleteFunc(l.idle, func(o idle) bool { return o.Conn == c })
	if to == http.StateNew || to == http.StateIdle {
		l.idle = append(l.idle, idle{c, time.Now()})
	}
}

// Close ends the listening. What is open stays open.
func (l *connections) Close() error {
	l.close.Do(func() { close(l.closed) })
	return l.Listener.Close()
}

// Close closes the connection.
func (c *connection) Close() error {
	c.left.Do(func() { <-c.from.room })
	return c.Conn.Close()
}
