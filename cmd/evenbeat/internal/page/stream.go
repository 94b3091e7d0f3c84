package page

import (
	"bytes"
	"context"
	"fmt"
	"iter"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
)

// stream sends events to one browser. Several goroutines may send.
type stream struct {
	// Since is the id of the last event that the browser had before it came back; 0 if
	// it comes for the first time.
	Since int64

	mu     sync.Mutex
	w      http.ResponseWriter
	within time.Duration
	drop   context.CancelFunc
}

// stream opens an event stream and hands it to do, which returns when its context ends,
// or when nothing more is to be told.
func (p *Page) stream(w http.ResponseWriter, r *http.Request, do func(context.Context, *stream) error) error {
	select {
	case p.streams <- struct{}{}:
		defer func() { <-p.streams }()
	default:
		w.Header().Set("Connection", "close") // and leave room for another
		return refuse(http.StatusServiceUnavailable, "Too many pages are open: close some.")
	}
	ctx, drop := context.WithCancel(r.Context())
	defer drop()
	s := &stream{w: w, within: p.limits.event, drop: drop}
	s.Since, _ = strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64) // 0 from whoever made one up
	w.Header().Set("Content-Type", "text/event-stream")
	if err := s.alive(); err != nil {
		return nil
	}
	var beats sync.WaitGroup
	defer beats.Wait()
	beats.Go(func() {
		tick := time.NewTicker(p.limits.beat)
		defer tick.Stop()
		for {
			select {
			case <-tick.C:
			case <-ctx.Done():
				return
			}
			if s.alive() != nil {
				return
			}
		}
	})
	err := do(ctx, s)
	drop() // before the beats are waited for
	if err != nil && ctx.Err() == nil {
		p.Log.Error().Err(err).Str("address", r.URL.Path).Msg("bench page")
	}
	return nil // the head is sent: nothing else can be told
}

// Send sends an event. id is the number of the row that it tells of, 0 for none. The
// error is that of a browser that is gone or too slow, and ends the stream's context.
func (s *stream) Send(id int64, event string, data []byte) error {
	var b bytes.Buffer
	if id != 0 {
		fmt.Fprintf(&b, "id: %d\n", id)
	}
	fmt.Fprintf(&b, "event: %s\n", event)
	// A lone return ends a line too (WHATWG HTML, 9.2.5), and what a device says can hold one.
	for line := range strings.Lines(lineEnds.Replace(string(data))) {
		fmt.Fprintf(&b, "data: %s\n", strings.TrimSuffix(line, "\n"))
	}
	if len(data) == 0 {
		b.WriteString("data\n")
	}
	b.WriteByte('\n')
	return s.put(b.Bytes())
}

var lineEnds = strings.NewReplacer("\r\n", "\n", "\r", "\n")

// alive sends a comment, by which both sides find out that the other is still there.
func (s *stream) alive() error { return s.put([]byte(":\n\n")) }

func (s *stream) put(text []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := http.NewResponseController(s.w)
	err := c.SetWriteDeadline(time.Now().Add(s.within))
	if err == nil {
		_, err = s.w.Write(text)
	}
	if err == nil {
		err = c.Flush()
	}
	if err != nil {
		s.drop()
	}
	return err
}

// changes yields the book's marks once at first, and then each time the book has changed,
// whichever program wrote to it, until ctx ends.
func (p *Page) changes(ctx context.Context) iter.Seq[[2]mark] {
	return func(yield func([2]mark) bool) {
		tick := time.NewTicker(p.limits.look)
		defer tick.Stop()
		var had [2]mark
		for first := true; ; first = false {
			is := [2]mark{markOf(p.Settings.Book), markOf(p.Settings.Book + "-wal")}
			if (is != had || first) && !yield(is) {
				return
			}
			had = is
			select {
			case <-tick.C:
			case <-ctx.Done():
				return
			}
		}
	}
}

// mark is by what a file is seen to have changed.
type mark struct {
	size int64
	at   time.Time
}

func markOf(name string) mark {
	st, err := os.Stat(name)
	if err != nil {
		return mark{}
	}
	return mark{st.Size(), st.ModTime()}
}
