package page

import (
	"bufio"
	"context"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// Of a thousand browsers that all want events, as many are served as there may be. The
// others are refused, and the page answers meanwhile.
func TestThousandStreams(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall"})
	ctx, stop := context.WithTimeout(t.Context(), patience)
	var (
		held     sync.WaitGroup
		mu       sync.Mutex
		statuses = map[int]int{}
		asked    = make(chan struct{})
	)
	const all = 1000
	for range all {
		held.Go(func() {
			req, err := http.NewRequestWithContext(ctx, http.MethodGet, b.url+"/events", nil)
			if err != nil {
				t.Error(err)
			}
			answer, err := http.DefaultClient.Do(req)
			if err != nil {
				t.Error(err)
				asked <- struct{}{}
				return
			}
			mu.Lock()
			statuses[answer.StatusCode]++
			mu.Unlock()
			asked <- struct{}{}
			<-ctx.Done() // holds what it got
			if err := answer.Body.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	for range all {
		<-asked
	}
	if status, _ := b.get(t, "/"); status != http.StatusOK {
		t.Errorf("status %d of a page beside them", status)
	}
	stop()
	held.Wait()
	if most := usual().streams; statuses[http.StatusOK] != most || statuses[http.StatusServiceUnavailable] != all-most {
		t.Errorf("statuses %v, want %d streams and no more", statuses, most)
	}
}

// inAddress is what a route takes from the address.
var inAddress = regexp.MustCompile(`\{[a-z]+\}`)

// Whoever looks changes nothing: after a GET of each route the book's rows are the same.
func TestLookingChangesNothing(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall", Train: "96/8,80/10,75/10,30", BeatsPerTooth: 2, HourArbor: 2})
	newest := func() (text string) {
		if err := b.Read(t.Context(), func(x *book.Book) (err error) {
			text, err = x.Newest(t.Context(), 1)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return text
	}
	before, asked := newest(), 0
	for _, l := range b.header {
		for pattern := range l.Routes {
			path, ok := strings.CutPrefix(pattern, "GET ")
			if !ok {
				continue
			}
			path = inAddress.ReplaceAllString(strings.ReplaceAll(path, "{$}", ""), "1")
			answer := b.open(t, path+"?name=Attic&error=1s&kind=wound&text=x&do=undo&port=x")
			if strings.HasPrefix(answer.Header.Get("Content-Type"), "text/event-stream") {
				if _, err := bufio.NewReader(answer.Body).ReadString('\n'); err != nil {
					t.Errorf("%s: %v", path, err)
				}
			}
			for _, name := range []string{"Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy", "Cache-Control"} {
				if answer.Header.Get(name) == "" {
					t.Errorf("%s: no %s", path, name)
				}
			}
			if err := answer.Body.Close(); err != nil {
				t.Error(err)
			}
			asked++
		}
	}
	if after := newest(); after != before || asked < 5 {
		t.Errorf("after %d looks the book is %s, was %s", asked, after, before)
	}
}
