//go:build unix

package page

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"evenbeat/devices/simulate"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// plug makes a pseudo-terminal that the page's computer lists as a port.
func (b *bench) plug(t testing.TB) (instrument *os.File, name string) {
	t.Helper()
	instrument, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = instrument.Close()
		_ = tty.Close()
	})
	b.ports.add(tty.Name())
	return instrument, tty.Name()
}

// browser is an event stream that is open.
type browser struct {
	*bufio.Reader
	answer *http.Response
}

func (b *bench) look(t testing.TB, path string, since int64) *browser {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), patience)
	t.Cleanup(stop)
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, b.url+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	if since != 0 {
		req.Header.Set("Last-Event-ID", strconv.FormatInt(since, 10))
	}
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = answer.Body.Close() })
	return &browser{bufio.NewReader(answer.Body), answer}
}

// await reads events up to one of a name whose data has a text, and returns its id.
func (s *browser) await(t testing.TB, name, text string) (id int64, data string) {
	t.Helper()
	is := ""
	for {
		line, err := s.ReadString('\n')
		if err != nil {
			t.Fatalf("waiting for %s with %q: %v", name, text, err)
		}
		line = strings.TrimSuffix(line, "\n")
		key, value, _ := strings.Cut(line, ": ")
		switch {
		case key == "id":
			id, _ = strconv.ParseInt(value, 10, 64)
		case key == "event":
			is = value
		case key == "data":
			data += value + "\n"
		case line == "":
			if is == name && strings.Contains(data, text) {
				return id, data
			}
			id, is, data = 0, "", ""
		}
	}
}

func (b *bench) must(t testing.TB, path string, f url.Values) string {
	t.Helper()
	status, text, _ := b.post(t, path, f)
	if status != http.StatusOK {
		t.Fatalf("%s %v: status %d: %s", path, f, status, text)
	}
	return text
}

func send(t testing.TB, to *os.File, line string) {
	t.Helper()
	if _, err := to.WriteString(line + "\r\n"); err != nil {
		t.Fatal(err)
	}
}

// A barrel is measured by a caliper on a serial line, with the page's own eyes: two browsers
// see each reading with its number as it is in the book, one that comes back sees all, and
// the verdict is there before the last reading is in.
func TestMeasuringOnThePage(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	c := b.add(t, sessions.Clock{Name: "Hall"})
	caliper, name := b.plug(t)
	if status, text := b.get(t, measuringOne); status != http.StatusOK || !strings.Contains(text, name) || !strings.Contains(text, "mainspring: a mainspring and its barrel") {
		t.Fatalf("status %d: %s", status, text)
	}
	begin := url.Values{"plan": {"mainspring"}, "port": {name}, "profile": {"caliper"}}
	text := b.must(t, measuringOne, begin)
	if !strings.Contains(text, "bore 1 of 3") || !strings.Contains(text, "break fingers") || !strings.Contains(text, told["begun"]) {
		t.Errorf("begun: %s", text)
	}
	one, two := b.look(t, measuringOne+"/events", 0), b.look(t, measuringOne+"/events", 0)
	one.await(t, "asked", "bore 1 of 3")
	two.await(t, "asked", "bore 1 of 3")
	if status, text, _ := b.post(t, measuringOne, begin); status != http.StatusConflict || !strings.Contains(text, "is already running for this clock") {
		t.Errorf("a second session: status %d: %s", status, text)
	}
	b.add(t, sessions.Clock{Name: "Landing"})
	if status, text, _ := b.post(t, "/clocks/2/measuring", begin); status != http.StatusConflict || !strings.Contains(text, "listens at "+name) {
		t.Errorf("the same port: status %d: %s", status, text)
	}
	send(t, caliper, "63.50mm")
	for _, s := range []*browser{one, two} {
		if id, data := s.await(t, "last", "63.50"); id != 1 || !strings.Contains(data, "2.500 in") || !strings.Contains(data, "✓") {
			t.Errorf("reading %d: %s", id, data)
		}
		s.await(t, "say", "bore 63.50 mm, kept. Next: bore 2 of 3.")
		s.await(t, "sound", "kept")
	}
	send(t, caliper, "64.50mm")
	if id, data := one.await(t, "last", "64.50"); id != 2 || !strings.Contains(data, "doubtful: differs") || !strings.Contains(data, ">?<") {
		t.Errorf("reading %d: %s", id, data)
	}
	one.await(t, "sound", "doubtful")
	send(t, caliper, "0.00mm") // jaws closed
	one.await(t, "rows", "2, taken back")
	one.await(t, "sound", "undone")
	// One that comes back hears what it missed; one that comes for the first time doesn't.
	send(t, caliper, "63.52mm")
	one.await(t, "last", "63.52")
	again := b.look(t, measuringOne+"/events", 1)
	again.await(t, "rows", "2, taken back")
	again.await(t, "say", "63.52 mm, kept")
	// What is typed has the same rules, and its answer is on the page that comes back.
	if text := b.must(t, measuringOne+"/do", url.Values{"line": {"banana"}}); !strings.Contains(text, "Not taken: &#34;banana&#34;") {
		t.Errorf("typed: %s", text)
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"line": {"63.51mm"}}); !strings.Contains(text, "depth</h2>") {
		t.Errorf("typed: %s", text)
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"do": {"skip"}}); !strings.Contains(text, "arbor 1 of 2") {
		t.Errorf("skipped: %s", text)
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"back": {"1"}}); !strings.Contains(text, "1, taken back") {
		t.Errorf("taken back: %s", text)
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"jump": {"arbor"}}); !strings.Contains(text, "<h2>arbor 1 of 2") {
		t.Errorf("jumped: %s", text)
	}
	for _, line := range []string{"19.00mm", "19.01mm"} {
		send(t, caliper, line)
		one.await(t, "last", line[:5])
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"jump": {"strip"}}); strings.Contains(text, "So far:") {
		t.Errorf("a verdict without a strip: %s", text)
	}
	send(t, caliper, "0.45mm")
	if _, data := one.await(t, "verdict", "So far:"); !strings.Contains(data, `barrel.svg?narrow&amp;as-of=`) || strings.Contains(data, "ZgotmplZ") {
		t.Errorf("a phone finds no picture: %s", data)
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"do": {"finish"}}); !strings.Contains(text, told["finished"]) || !strings.Contains(text, "Begin measuring") {
		t.Errorf("finished: %s", text)
	}
	one.await(t, "mode", modeNone)
	if text := b.must(t, measuringOne+"/do", url.Values{"back": {"4"}}); !strings.Contains(text, "4, taken back") {
		t.Errorf("taken back afterwards: %s", text)
	}
	if status, _, _ := b.post(t, measuringOne+"/do", url.Values{"do": {"undo"}}); status != http.StatusConflict {
		t.Errorf("a command to no session: status %d", status)
	}
	b.inBook(t, func(x *book.Book) error {
		all, err := x.Sessions(t.Context(), c.ID)
		if err != nil || len(all) != 1 || all[0].Ended.IsZero() || all[0].Port != name {
			t.Errorf("sessions %+v, %v", all, err)
		}
		return err
	})
}

func (b *bench) inBook(t *testing.T, do func(*book.Book) error) {
	t.Helper()
	if err := b.Read(t.Context(), do); err != nil {
		t.Error(err)
	}
}

// Only a port that is listed is opened, and what can't be opened is told beside the form.
func TestPortsThatMayBeOpened(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall"})
	b.ports.add("/dev/gone-away")
	for _, path := range []string{measuringOne, timingOne} {
		for name, want := range map[string]string{"/etc/passwd": "lists no port /etc/passwd", "/dev/gone-away": "/dev/gone-away"} {
			status, text, _ := b.post(t, path, url.Values{"plan": {"pivot"}, "port": {name}})
			if status != http.StatusUnprocessableEntity || !strings.Contains(text, want) {
				t.Errorf("%s at %s: status %d: %s", path, name, status, text)
			}
		}
	}
	b.inBook(t, func(x *book.Book) error {
		all, err := x.Sessions(t.Context(), 1)
		if len(all) != 0 {
			t.Errorf("sessions %+v", all)
		}
		return err
	})
}

// A clock is timed by a sensor on a serial line: the browser sees the rate, and the session
// goes on without it until the page ends, and is then ended in the book.
func TestTimingOnThePage(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall", BeatsPerHour: 72000})
	sensor, name := b.plug(t)
	text := b.must(t, timingOne, url.Values{"port": {name}, "profile": {"beat-counter"}})
	if !strings.Contains(text, "Too few beats yet") || strings.Contains(text, "Begin timing") {
		t.Errorf("begun: %s", text)
	}
	s := b.look(t, timingOne+"/events", 0)
	s.await(t, "mode", modeGoes)
	clock, err := simulate.NewClock(func() simulate.ClockConfig {
		cfg := simulate.EvenClock(5)
		cfg.BeatsPerHour, cfg.Span = 72000, 60
		return cfg
	}())
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	go func() {
		for at, line := range clock.Lines(0, 2) {
			<-time.After(time.Duration(at) - time.Since(began))
			if _, err := sensor.Write(line); err != nil {
				return
			}
		}
	}()
	_, data := s.await(t, "rate", "s/day")
	if !strings.Contains(data, "<rect") || !strings.Contains(data, "The clock") {
		t.Errorf("rate: %s", data)
	}
	s.await(t, "heard", "beats are in the book")
	if err := s.answer.Body.Close(); err != nil {
		t.Fatal(err)
	}
	if status, text := b.get(t, timingOne); status != http.StatusOK || !strings.Contains(text, "s/day") {
		t.Errorf("come back: status %d: %s", status, text)
	}
	b.end()
	at := time.Now()
	b.over <- <-b.over
	if took := time.Since(at); took > time.Second {
		t.Errorf("it took %v to end", took)
	}
	b.inBook(t, func(x *book.Book) error {
		all, err := x.Sessions(t.Context(), 1)
		if err != nil || len(all) != 1 || all[0].Ended.IsZero() {
			t.Fatalf("sessions %+v, %v", all, err)
		}
		n, err := x.BeatCount(t.Context(), all[0].ID)
		if n < 20 {
			t.Errorf("%d beats in the book", n)
		}
		return err
	})
}

// A session of another program is followed through the book, and its readings can be taken
// back.
func TestMeasuringElsewhere(t *testing.T) {
	t.Parallel()
	b := serve(t, func(l *limits) { l.look = time.Millisecond })
	c := b.add(t, sessions.Clock{Name: "Hall"})
	s := b.look(t, measuringOne+"/events", 0)
	s.await(t, "mode", modeNone)
	var ses int64
	write := func(do func(*book.Book) error) {
		t.Helper()
		if err := b.Write(t.Context(), do); err != nil {
			t.Fatal(err)
		}
	}
	write(func(x *book.Book) (err error) {
		ses, err = x.StartSession(t.Context(), sessions.Session{ClockID: c.ID, Kind: sessions.SessionMeasure, Plan: "mainspring", Part: "barrel", Port: "/dev/ttyUSB0", Profile: "caliper", Started: time.Now()})
		return err
	})
	s.await(t, "mode", modeElsewhere)
	s.await(t, "asked", "bore 1 of 3")
	for i := range 2 {
		write(func(x *book.Book) error {
			_, err := x.AddReading(t.Context(), sessions.Reading{SessionID: ses, ClockID: c.ID, At: time.Now(), Part: "barrel", Dimension: "bore", Kind: sessions.Inside,
				Value: 63.5e-3 + float64(i)*1e-5, Step: 1e-5, Text: fmt.Sprintf("63.5%dmm", i), Instrument: "caliper", State: sessions.Kept})
			return err
		})
		s.await(t, "last", fmt.Sprintf("63.5%d", i))
	}
	if text := b.must(t, measuringOne+"/do", url.Values{"back": {"2"}}); !strings.Contains(text, "2, taken back") || !strings.Contains(text, "runs in another program") {
		t.Errorf("taken back: %s", text)
	}
	s.await(t, "rows", "2, taken back")
	write(func(x *book.Book) error { return x.EndSession(t.Context(), ses, time.Now()) })
	s.await(t, "mode", modeNone)
}

// What an instrument sends is text wherever it is shown, on the page and in what a stream
// puts into it. So is the name of a clock.
func TestInstrumentsSendNoScript(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	const script, shown = "<script>x()</script>", "&lt;script&gt;x()&lt;/script&gt;"
	b.add(t, sessions.Clock{Name: "Hall " + script})
	caliper, name := b.plug(t)
	b.must(t, measuringOne, url.Values{"plan": {"mainspring"}, "port": {name}, "profile": {"caliper"}})
	eye := b.look(t, measuringOne+"/events", 0)
	eye.await(t, "asked", "bore")
	send(t, caliper, script)
	if _, data := eye.await(t, "notes", "x()"); !strings.Contains(data, shown) || strings.Contains(data, "<script") {
		t.Errorf("the stream sends %s", data)
	}
	for _, path := range []string{"/", measuringOne, timingOne, "/clocks/1/days", "/clocks/1/sheet"} {
		if _, text := b.get(t, path); !strings.Contains(text, shown) || strings.Contains(text, "<script>x") {
			t.Errorf("%s shows %s", path, text)
		}
	}
}
