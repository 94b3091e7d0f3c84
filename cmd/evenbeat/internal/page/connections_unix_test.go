//go:build unix

package page

import (
	"fmt"
	"net"
	"net/http"
	"net/url"
	"testing"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// Two thousand connections that ask for nothing are held open during a session: its readings
// are kept, and whoever asks is answered. Never are more open than may be.
func TestTwoThousandConnections(t *testing.T) { // alone: the test itself holds them open too
	const most = 40
	b := serve(t, func(l *limits) { l.connections, l.wait = most, time.Millisecond })
	b.add(t, sessions.Clock{Name: "Hall"})
	caliper, name := b.plug(t)
	b.must(t, measuringOne, url.Values{"plan": {"mainspring"}, "port": {name}, "profile": {"caliper"}})
	eye := b.look(t, measuringOne+"/events", 0)
	for n := range 2000 {
		conn, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", b.bound().String())
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		if n%100 != 99 {
			continue
		}
		line := fmt.Sprintf("63.%02d", 40+n/100)
		send(t, caliper, line+"mm")
		eye.await(t, "last", line)
		if status, _ := b.get(t, "/"); status != http.StatusOK {
			t.Errorf("after %d connections: status %d", n, status)
		}
		if open := len(b.listener.room); open > most {
			t.Errorf("%d are open", open)
		}
	}
	b.inBook(t, func(x *book.Book) error {
		all, err := x.Readings(t.Context(), 1)
		if len(all) != 20 {
			t.Errorf("%d readings are in the book", len(all))
		}
		return err
	})
}
