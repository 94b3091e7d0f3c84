//go:build unix

package page

import (
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// eight are eight instruments at the page's computer: six calipers and two sensors of beats.
// Each is recorded for a clock of its own.
type eight struct {
	*bench
	lines [8]*os.File
	eyes  [8]*browser     // a browser at each
	sent  [8][]string     // readings as text, beats by their counts
	took  []time.Duration // from a reading's first byte to the event that shows it
}

const calipers = 6

func beginEight(t testing.TB) *eight {
	e := &eight{bench: serve(t, nil)}
	for i := range e.lines {
		e.add(t, sessions.Clock{Name: fmt.Sprint("clock ", i), BeatsPerHour: 72000})
		var name string
		e.lines[i], name = e.plug(t)
		form := url.Values{"plan": {"mainspring"}, "port": {name}, "profile": {"caliper"}}
		if i >= calipers {
			form = url.Values{"port": {name}, "profile": {"beat-counter"}}
		}
		e.must(t, e.place(i), form)
		e.eyes[i] = e.look(t, e.place(i)+"/events", 0)
		e.eyes[i].await(t, "mode", modeGoes)
	}
	return e
}

func (e *eight) place(i int) string {
	if i >= calipers {
		return addressOf(timingPath, sessions.Clock{ID: int64(i + 1)})
	}
	return addressOf(measuringPath, sessions.Clock{ID: int64(i + 1)})
}

// crowd fills what is left of the streams with browsers that read, and some that never do.
func (e *eight) crowd(t testing.TB) {
	for n := range usual().streams - len(e.eyes) {
		path := e.place(n%len(e.eyes)) + "/events"
		if n%8 > 0 {
			answer := e.open(t, path)
			t.Cleanup(func() { _ = answer.Body.Close() })
			go func() { _, _ = io.Copy(io.Discard, answer.Body) }()
			continue
		}
		conn, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", e.bound().String())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = conn.Close() })
		if _, err := fmt.Fprintf(conn, "GET %s HTTP/1.1\r\nHost: %s\r\n\r\n", path, e.bound()); err != nil {
			t.Fatal(err)
		}
	}
}

// send has each instrument send so many readings or beats, about ten a second.
func (e *eight) send(t testing.TB, each int) {
	took := make([][]time.Duration, calipers)
	var all sync.WaitGroup
	for i := range e.lines {
		all.Go(func() {
			tick := time.NewTicker(time.Duration(100+7*i) * time.Millisecond)
			defer tick.Stop()
			for n := range each {
				<-tick.C
				if i >= calipers {
					line := strconv.Itoa(1000000 + n*50000)
					e.sent[i] = append(e.sent[i], line)
					send(t, e.lines[i], line)
					continue
				}
				line := fmt.Sprintf("63.%02d", 10+n%9)
				e.sent[i] = append(e.sent[i], line+"mm")
				began := time.Now()
				send(t, e.lines[i], line+"mm")
				e.eyes[i].await(t, "last", line)
				took[i] = append(took[i], time.Since(began))
			}
		})
	}
	all.Wait()
	e.took = slices.Concat(took...)
	slices.Sort(e.took)
}

// inTheBook reads back what was kept, after the sessions are finished.
func (e *eight) inTheBook(t testing.TB) (kept [8][]string) {
	for i := range e.lines {
		if i >= calipers {
			one, _ := e.runs.of(sessions.SessionTime, int64(i+1))
			for range one.Subscribe(t.Context()) {
				if one.State().Beats == int64(len(e.sent[i])) {
					break
				}
			}
			e.must(t, e.place(i)+"/finish", nil)
		} else {
			e.must(t, e.place(i)+"/do", url.Values{"do": {"finish"}})
		}
		err := e.Read(t.Context(), func(b *book.Book) error {
			all, err := b.Readings(t.Context(), int64(i+1))
			for _, r := range all {
				kept[i] = append(kept[i], r.Text)
			}
			for beats, err := range b.Beats(t.Context(), int64(i+1)) {
				if err != nil {
					return err
				}
				for _, x := range beats {
					kept[i] = append(kept[i], strconv.FormatUint(x.Count, 10))
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return kept
}

// Eight instruments are recorded at once, beside as many browsers as may look, some of which
// never read: nothing that was sent is lost.
func TestEightInstrumentsBesideACrowd(t *testing.T) {
	e := beginEight(t)
	e.crowd(t)
	e.send(t, 12)
	for i, kept := range e.inTheBook(t) {
		if !slices.Equal(kept, e.sent[i]) {
			t.Errorf("instrument %d sent %q, and the book has %q", i, e.sent[i], kept)
		}
	}
}

// BenchmarkByteToPage prints the distribution of the time from a byte at the instrument's
// end of the line to the event at the browser, with eight instruments at once: alone, and
// beside as many browsers as may look.
func BenchmarkByteToPage(b *testing.B) {
	for name, crowded := range map[string]bool{"alone": false, "crowded": true} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				e := beginEight(b)
				if crowded {
					e.crowd(b)
				}
				e.send(b, 40)
				for name, share := range map[string]float64{"p50": .5, "p95": .95, "p99": .99, "max": 1} {
					at := e.took[int(share*float64(len(e.took)-1))]
					b.ReportMetric(float64(at.Microseconds())/1e3, name+"-ms")
				}
			}
		})
	}
}
