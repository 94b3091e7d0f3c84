//go:build unix

package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestBenchAttacked(t *testing.T) {
	t.Parallel()
	s := serveBook(t, "127.0.0.1:0")
	before, port := s.book(t), s.link.Port()
	host := func(h string) func(*http.Request) { return func(r *http.Request) { r.Host = h } }
	head := func(name, value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set(name, value) }
	}
	for _, c := range []struct {
		name, method, target string
		change               func(*http.Request)
		want                 int
	}{
		{"plain", "GET", "/", nil, 200},
		{"sheet", "GET", "/clocks/1/sheet", nil, 200},
		{"the customer's page", "GET", "/clocks/1/customer", nil, 200},
		{"measuring", "GET", "/clocks/1/measuring", nil, 200},
		{"timing", "GET", "/clocks/1/timing", nil, 200},
		{"days", "GET", "/clocks/1/days", nil, 200},
		{"instruments", "GET", "/instruments", nil, 200},
		{"metrics", "GET", "/metrics", nil, 200},
		{"another clock", "GET", "/clocks/2/sheet", nil, 404},
		{"no clock's number", "GET", "/clocks/x/sheet", nil, 404},
		{"figure", "GET", "/clocks/1/figures/beat.svg", nil, 200},
		{"no figure", "GET", "/clocks/1/figures/..%2fbeat.svg", nil, 404},
		{"script", "GET", "/bench.js", nil, 200},
		{"style", "GET", "/style.css", nil, 200},
		{"what is beside it", "GET", "/static/bench.js", nil, 404},
		{"by name", "GET", "/", host("localhost:" + port), 200},
		{"foreign host", "GET", "/", host("evil.example:" + port), 421},
		{"foreign host without port", "GET", "/", host("evil.example"), 421},
		{"begins like ours", "GET", "/", host("127.0.0.1.evil.example:" + port), 421},
		{"wrong port", "GET", "/", host("127.0.0.1:1"), 421},
		{"another address of this computer", "GET", "/", host("127.0.0.2:" + port), 421},
		{"every address", "GET", "/", host("0.0.0.0:" + port), 421},
		{"cross-site post", "POST", "/", head("Sec-Fetch-Site", "cross-site"), 403},
		{"post from another origin", "POST", "/", head("Origin", "http://evil.example"), 403},
		{"post", "POST", "/", nil, 405},
		{"put", "PUT", "/", nil, 405},
		{"delete", "DELETE", "/", nil, 405},
		{"up", "GET", "/../../../../../../etc/passwd", nil, 307},
		{"up, written in code", "GET", "/%2e%2e/%2e%2e/%2e%2e/etc/passwd", nil, 404},
		{"up by backslashes", "GET", `/..%5c..%5c..%5cetc/passwd`, nil, 404},
		{"the book", "GET", "/book.db", nil, 404},
		{"script in the address", "GET", "/" + url.PathEscape(hostile), nil, 404},
	} {
		t.Run(c.name, func(t *testing.T) {
			answer, body := s.ask(t, c.method, c.target, c.change)
			if answer.StatusCode != c.want {
				t.Errorf("status %d, want %d: %s", answer.StatusCode, c.want, body)
			}
			if strings.Contains(body, "root:") || strings.Contains(body, "<script>") || strings.Contains(body, "<img src=x") || c.want != 200 && strings.Contains(body, "alert(1)") {
				t.Errorf("the answer is %s", body)
			}
			if least := map[string]int{"/": 1, "/clocks/1/sheet": 7, "/clocks/1/customer": 3, "/clocks/1/measuring": 2, "/clocks/1/timing": 1, "/clocks/1/days": 2}[c.target]; c.want == 200 && strings.Count(body, "&lt;script&gt;alert(1)&lt;/script&gt;") < least {
				t.Error("what was typed is not on the page as it was typed")
			}
		})
	}
	if !bytes.Equal(before, s.book(t)) {
		t.Error("the book has changed")
	}
}

// Without a book the page is there, and the first clock that is added begins one.
func TestBenchWithoutBook(t *testing.T) {
	t.Parallel()
	s := serveIn(t, t.TempDir(), "127.0.0.1:0")
	for _, c := range []struct {
		method, target, form string
		want                 int
	}{
		{"GET", "/", "", 200},
		{"GET", "/instruments", "", 200},
		{"GET", "/metrics", "", 200},
		{"GET", "/clocks/1/days", "", 404},
		{"GET", "/clocks/1/sheet", "", 404},
		{"POST", "/clocks/new", "name=Hall", 303},
		{"GET", "/clocks/1/days", "", 200},
	} {
		answer, body := s.ask(t, c.method, c.target, func(r *http.Request) {
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Body = io.NopCloser(strings.NewReader(c.form))
		})
		if answer.StatusCode != c.want {
			t.Errorf("%s %s: status %d, want %d: %s", c.method, c.target, answer.StatusCode, c.want, body)
		}
	}
}

// dial opens a connection to the page and sends what begins a request.
func (s *served) dial(t *testing.T, begins string) net.Conn {
	t.Helper()
	c, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", s.host())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if _, err := fmt.Fprintf(c, begins, s.host()); err != nil {
		t.Fatal(err)
	}
	return c
}

// A request of 100 MB is cut off long before it has come, whichever part of it is large.
func TestBenchBounds(t *testing.T) {
	t.Parallel()
	s := serveBook(t, "127.0.0.1:0")
	const all, least = 100 << 20, 16 << 20 // the system takes some megabytes that nobody reads
	for _, c := range []struct{ name, begins, piece, status string }{
		{"body", "GET / HTTP/1.1\r\nHost: %s\r\nContent-Length: 104857600\r\n\r\n", strings.Repeat("x", 1<<16), "413"},
		{"post", "POST / HTTP/1.1\r\nHost: %s\r\nContent-Length: 104857600\r\n\r\n", strings.Repeat("x", 1<<16), "413"},
		{"body without end", "GET / HTTP/1.1\r\nHost: %s\r\nTransfer-Encoding: chunked\r\n\r\n", "10000\r\n" + strings.Repeat("x", 1<<16) + "\r\n", "413"},
		{"headers", "GET / HTTP/1.1\r\nHost: %s\r\n", "X-Long: " + strings.Repeat("x", 1<<14) + "\r\n", "431"},
	} {
		t.Run(c.name, func(t *testing.T) {
			conn := s.dial(t, c.begins)
			status := make(chan string, 1)
			go func() {
				line, _ := bufio.NewReader(conn).ReadString('\n') // may be lost when the connection is reset
				status <- line
			}()
			sent := 0
			for sent < all {
				n, err := io.WriteString(conn, c.piece)
				if sent += n; err != nil {
					break
				}
			}
			if sent > least {
				t.Errorf("%d bytes were taken", sent)
			}
			if line := <-status; line != "" && !strings.Contains(line, c.status) {
				t.Errorf("answer %q, want %s", line, c.status)
			}
		})
	}
	if answer, _ := s.ask(t, "GET", "/", nil); answer.StatusCode != 200 {
		t.Errorf("status %d afterwards", answer.StatusCode)
	}
}

// Who sends slowly is cut off at the deadline.
func TestBenchSlowSenders(t *testing.T) {
	t.Parallel()
	s := serveBook(t, "127.0.0.1:0")
	for name, begins := range map[string]string{
		"slow headers": "GET / HTTP/1.1\r\nHost: %s\r\nX-Slow: ",
		"slow body":    "POST / HTTP/1.1\r\nHost: %s\r\nContent-Length: 1000\r\n\r\nx",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			conn, begun := s.dial(t, begins), time.Now()
			go func() {
				for {
					if _, err := io.WriteString(conn, "x"); err != nil {
						return
					}
					time.Sleep(500 * time.Millisecond)
				}
			}()
			if err := conn.SetReadDeadline(begun.Add(20 * time.Second)); err != nil {
				t.Fatal(err)
			}
			// Until the other side has ended it, be it with a reset.
			if _, err := io.Copy(io.Discard, conn); errors.Is(err, os.ErrDeadlineExceeded) {
				t.Errorf("it is still open after %v", time.Since(begun))
			}
		})
	}
}

// A thousand that never finish asking and one that never reads don't keep others from the
// page, nor the page from ending by Ctrl-C, with status 0, before any of them is cut off.
func TestBenchEndsWhateverIsOpen(t *testing.T) {
	t.Parallel()
	s := serveBook(t, "127.0.0.1:0")
	for n := range 1000 {
		s.dial(t, []string{"GET / HTTP/1.1\r\nHost: %s\r\n", "POST / HTTP/1.1\r\nHost: %s\r\nContent-Length: 9\r\n\r\nx"}[n%2])
	}
	deaf := s.dial(t, strings.Repeat("GET / HTTP/1.1\r\nHost: %[1]s\r\n\r\n", 10))
	deafened := make(chan struct{})
	go func() {
		defer close(deafened)
		for {
			if _, err := fmt.Fprintf(deaf, "GET / HTTP/1.1\r\nHost: %s\r\n\r\n", s.host()); err != nil {
				return
			}
		}
	}()
	for range 3 {
		if answer, _ := s.ask(t, "GET", "/", nil); answer.StatusCode != 200 {
			t.Errorf("status %d beside them", answer.StatusCode)
		}
	}
	begun := time.Now()
	s.end(t)
	// The first of them would have been cut off for its slowness after five seconds.
	if took := time.Since(begun); took > 4*time.Second {
		t.Errorf("it ends after %v", took)
	}
	<-deafened
}

// Beyond this computer the page asks for the token of the link, once.
func TestBenchToken(t *testing.T) {
	t.Parallel()
	s := serveBook(t, "0.0.0.0:0")
	token := s.link.Query().Get("token")
	if len(token) < 26 { // of five bits each
		t.Fatalf("the link is %s", s.link)
	}
	cookie := func(value string) func(*http.Request) {
		return func(r *http.Request) { r.AddCookie(&http.Cookie{Name: "evenbeat-" + s.link.Port(), Value: value}) }
	}
	bearer := func(value string) func(*http.Request) {
		return func(r *http.Request) { r.Header.Set("Authorization", value) }
	}
	referrer := func(r *http.Request) { r.Header.Set("Referer", s.link.String()) }
	for _, c := range []struct {
		name, method, target string
		change               func(*http.Request)
		want                 int
	}{
		{"none", "GET", "/", nil, 403},
		{"wrong", "GET", "/?token=" + strings.Repeat("A", len(token)), nil, 403},
		{"empty", "GET", "/?token=", nil, 403},
		{"most of it", "GET", "/?token=" + token[:25], nil, 403},
		{"in the referrer", "GET", "/", referrer, 403},
		{"posted", "POST", "/?token=" + token, nil, 403},
		{"at no place", "GET", "/other?token=" + token, nil, 403},
		{"wrong cookie", "GET", "/", cookie("A"), 403},
		{"empty cookie", "GET", "/", cookie(""), 403},
		{"right, foreign host", "GET", "/?token=" + token, func(r *http.Request) { r.Host = "evil.example:" + s.link.Port() }, 421},
		{"right", "GET", "/?token=" + token, nil, 303},
		{"right cookie", "GET", "/", cookie(token), 200},
		{"watched without one", "GET", "/metrics", nil, 403},
		{"wrong bearer", "GET", "/metrics", bearer("Bearer " + strings.Repeat("A", len(token))), 403},
		{"empty bearer", "GET", "/metrics", bearer("Bearer "), 403},
		{"most of the bearer", "GET", "/metrics", bearer("Bearer " + token[:25]), 403},
		{"another scheme", "GET", "/metrics", bearer("Basic " + token), 403},
		{"no scheme", "GET", "/metrics", bearer(token), 403},
		{"right bearer", "GET", "/metrics", bearer("Bearer " + token), 200},
		{"right bearer, foreign host", "GET", "/metrics", func(r *http.Request) {
			bearer("Bearer " + token)(r)
			r.Host = "evil.example:" + s.link.Port()
		}, 421},
		{"watched with the cookie", "GET", "/metrics", cookie(token), 200},
		{"right cookie, cross-site post", "POST", "/", func(r *http.Request) {
			cookie(token)(r)
			r.Header.Set("Sec-Fetch-Site", "cross-site")
		}, 403},
	} {
		t.Run(c.name, func(t *testing.T) {
			answer, body := s.ask(t, c.method, c.target, c.change)
			if answer.StatusCode != c.want {
				t.Errorf("status %d, want %d: %s", answer.StatusCode, c.want, body)
			}
			if strings.Contains(body, token) {
				t.Error("the answer holds the token")
			}
			set := answer.Cookies()
			if c.want != 303 {
				if len(set) > 0 {
					t.Errorf("it sets %v", set)
				}
				return
			}
			if to := answer.Header.Get("Location"); to != "/" {
				t.Errorf("it sends on to %q", to)
			}
			if len(set) != 1 || set[0].Value != token || !set[0].HttpOnly || set[0].SameSite != http.SameSiteStrictMode || set[0].Domain != "" {
				t.Errorf("it sets %v", set)
			}
		})
	}
	if again := serveBook(t, "0.0.0.0:0").link.Query().Get("token"); again == token {
		t.Error("two pages have the same token")
	}
}

// The page follows the book. What is wrong with it is told in the terminal alone.
func TestBenchFollowsTheBook(t *testing.T) {
	t.Parallel()
	s := serveBook(t, "127.0.0.1:0")
	const sheet = "/clocks/1/sheet"
	first, page := s.ask(t, "GET", sheet, nil)
	if _, again := s.ask(t, "GET", sheet, nil); first.StatusCode != 200 || again != page {
		t.Errorf("status %d; a second look at the same book has another page", first.StatusCode)
	}
	if out, err := evenbeat(t, s.dir, "note", "--kind", "oiled", "--text", "a new row").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if _, now := s.ask(t, "GET", sheet, nil); !strings.Contains(now, "a new row") {
		t.Error("the new row is not on the page")
	}
	photo := filepath.Join(s.dir, "dial.png")
	if err := os.WriteFile(photo, onePixel(t), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := evenbeat(t, s.dir, "job", "--photo", photo).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, path := range []string{sheet, "/clocks/1/customer"} {
		if answer, now := s.ask(t, "GET", path, nil); answer.StatusCode != 200 || !strings.Contains(now, `src="data:image/jpeg;base64,`) || strings.Contains(now, s.dir) {
			t.Errorf("%s: status %d, or no photograph: %.2000s", path, answer.StatusCode, now)
		}
	}
	if err := os.WriteFile(filepath.Join(s.dir, "book.db"), []byte("no book at all"), 0o600); err != nil {
		t.Fatal(err)
	}
	answer, body := s.ask(t, "GET", "/", nil) // which looks for the folder's name
	if answer.StatusCode != 500 {
		t.Errorf("status %d from what is no book: %s", answer.StatusCode, body)
	}
	s.end(t)
	if !strings.Contains(s.said.String(), filepath.Join(s.dir, "book.db")) {
		t.Errorf("the terminal says %q", s.said)
	}
}

// onePixel is a photograph of next to nothing.
func onePixel(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 1, 1))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
