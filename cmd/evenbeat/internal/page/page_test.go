package page

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/train"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/configs"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// patience is long enough for whatever must come.
const patience = time.Minute

// bench is a page that is served to a test, with a book of its own.
type bench struct {
	*Page
	ports *ports
	url   string
	end   context.CancelFunc
	over  chan error // what Serve returned
}

// serve serves a page that keeps to the usual limits, or to those that change makes.
func serve(t testing.TB, change func(*limits)) *bench {
	t.Helper()
	w := Workshop{Now: time.Now}
	var err error
	if w.Loaded, err = configs.Load(configs.LoadOptions{Environ: []string{"HOME=" + t.TempDir()}, Formats: live.FormatProfiles()}); err != nil {
		t.Fatal(err)
	}
	w.Settings.Book = filepath.Join(t.TempDir(), "book.db")
	open := func(o book.Options) func(context.Context, func(*book.Book) error) error {
		return func(ctx context.Context, do func(*book.Book) error) error {
			b, err := book.Open(ctx, w.Settings.Book, o)
			if err != nil {
				return err
			}
			return errors.Join(do(b), b.Close())
		}
	}
	w.Read, w.Write = open(book.Options{Reading: true}), open(book.Options{Create: true})
	w.Gather = func(ctx context.Context, b *book.Book, c sessions.Clock) (f plots.Findings, err error) {
		f.Record, err = b.Record(ctx, c.ID, book.Sessions, book.Readings, book.Checks, book.Events)
		return f, err
	}
	w.Judge = func(ctx context.Context, b *book.Book, c sessions.Clock) (f plots.Findings, err error) {
		if f.Record, err = b.Record(ctx, c.ID, book.Sessions, book.Readings); err != nil {
			return f, err
		}
		s, err := analysis.Spring(f.Record, "barrel", nil, analysis.SpringOptions{Limits: spring.DefaultLimits(), TypedLimit: 1e-3})
		f.Spring = &s
		return f, err
	}
	w.Sheet = func(out io.Writer, f plots.Findings, customer bool) error {
		in := plots.SheetInput{Findings: f, Made: w.Now(), Version: "test"}
		if customer {
			return plots.CustomerPage(out, in)
		}
		return plots.Sheet(out, in)
	}
	w.Timing = func(context.Context, *book.Book, sessions.Clock) (live.TimingOptions, error) {
		return live.TimingOptions{Now: port.HostClock(), EstimateEvery: time.Second}, nil
	}
	ports := &ports{}
	w.Ports = ports.list
	w.Describe = func(typed map[string]string) (sessions.Clock, map[string]error) {
		c, wrong := sessions.Clock{Name: typed["name"], Train: typed["train"], BeatsPerTooth: 2, HourArbor: 2}, map[string]error{}
		if err := quantity.CheckName("clock", c.Name); err != nil {
			wrong["name"] = err
		}
		if c.Train != "" {
			if _, err := train.Parse(c.Train, 2, 2); err != nil {
				wrong["train"] = err
			}
		}
		return c, wrong
	}
	w.ParseTime = func(text string, zone *time.Location) (time.Time, string, error) {
		at, err := time.ParseInLocation(time.RFC3339, text, zone)
		if err != nil {
			err = fmt.Errorf("%q is no time", text)
		}
		return at, "", err
	}
	w.OddTime = func(at time.Time, _ sessions.Record) string {
		if at.After(daysNow.Add(time.Minute)) && at.Before(daysNow.Add(2*time.Hour)) {
			return "it is ahead of this computer's clock"
		}
		return ""
	}
	most := usual()
	if change != nil {
		change(&most)
	}
	p, err := listen("127.0.0.1:0", w, most)
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(context.Background())
	b := &bench{Page: p, ports: ports, url: strings.TrimSuffix(p.Links()[0], "/"), end: end, over: make(chan error, 1)}
	go func() { b.over <- p.Serve(ctx) }()
	t.Cleanup(func() {
		end()
		if err := <-b.over; err != nil {
			t.Error(err)
		}
		http.DefaultClient.CloseIdleConnections()
	})
	return b
}

// ports are those that a test lists.
type ports struct {
	mu   sync.Mutex
	open []port.Info
}

func (p *ports) list() ([]port.Info, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.open), nil
}

func (p *ports) add(name string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.open = append(p.open, port.Info{Name: name})
}

func (p *ports) pull(name string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.open = slices.DeleteFunc(p.open, func(i port.Info) bool { return i.Name == name })
}

// add puts a clock into the book.
func (b *bench) add(t testing.TB, c sessions.Clock) sessions.Clock {
	t.Helper()
	err := b.Write(t.Context(), func(x *book.Book) (err error) {
		c, err = x.AddClock(t.Context(), c)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// get asks for a page, and returns its status and text.
func (b *bench) get(t testing.TB, path string) (int, string) {
	t.Helper()
	return b.read(t, b.open(t, path))
}

// post sends a form and follows where it leads; at is where that is.
func (b *bench) post(t testing.TB, path string, f url.Values) (status int, text, at string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.url+path, strings.NewReader(f.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	status, text = b.read(t, answer)
	return status, text, answer.Request.URL.Path
}

func (b *bench) open(t testing.TB, path string) *http.Response {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), patience)
	t.Cleanup(stop)
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, b.url+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	return answer
}

func (b *bench) read(t testing.TB, answer *http.Response) (int, string) {
	t.Helper()
	text, err := io.ReadAll(answer.Body)
	if err = errors.Join(err, answer.Body.Close()); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), "ZgotmplZ") { // which stands for what a template left out
		t.Errorf("%s: %s", answer.Request.URL, text)
	}
	return answer.StatusCode, string(text)
}

// event reads the next event of a stream, without signs of life.
func event(t *testing.T, stream *bufio.Reader) (name, data string) {
	t.Helper()
	for {
		line, err := stream.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		line = strings.TrimSuffix(line, "\n")
		switch {
		case strings.HasPrefix(line, "event: "):
			name = line[len("event: "):]
		case strings.HasPrefix(line, "data: "):
			data += line[len("data: "):] + "\n"
		case line == "" && name != "":
			return name, data
		}
	}
}

func TestWithoutABook(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	if status, text := b.get(t, "/"); status != http.StatusOK || !strings.Contains(text, "no clock yet") {
		t.Errorf("status %d: %s", status, text)
	}
	for _, path := range []string{"/clocks/1/sheet", "/clocks/1/figures/beat.svg"} {
		if status, text := b.get(t, path); status == http.StatusOK || strings.Contains(text, b.Settings.Book) {
			t.Errorf("%s: status %d: %s", path, status, text)
		}
	}
}

// The header links the places of the bench, and those of a clock from its pages alone.
func TestHeaderLinksWhatThereIs(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall"})
	for _, l := range b.header {
		if l.Name == "" {
			continue
		}
		if _, ok := l.Routes["GET "+l.Path]; !ok && l.Path != "/" {
			t.Errorf("%s is linked at %s, which none of its routes serves", l.Name, l.Path)
		}
		if status, text := b.get(t, strings.ReplaceAll(l.Path, "{id}", "1")); status != http.StatusOK {
			t.Errorf("%s: status %d: %s", l.Path, status, text)
		}
	}
	if _, text := b.get(t, "/"); !strings.Contains(text, `href="/" aria-current="page"`) || !strings.Contains(text, ">Hall</h2>") {
		t.Errorf("the page of clocks is %s", text)
	}
}

// A stream begins with how things are and follows the book, whoever writes to it.
func TestStreamFollowsTheBook(t *testing.T) {
	t.Parallel()
	b := serve(t, func(l *limits) { l.look, l.beat = time.Millisecond, time.Millisecond })
	c := b.add(t, sessions.Clock{Name: "Hall"})
	answer := b.open(t, "/events")
	defer answer.Body.Close()
	if kind := answer.Header.Get("Content-Type"); answer.StatusCode != http.StatusOK || kind != "text/event-stream" {
		t.Fatalf("status %d, %s", answer.StatusCode, kind)
	}
	events := bufio.NewReader(answer.Body)
	for n, want := range []string{"Still to be measured", "Fri 2 Jan 2026", "Sat 3 Jan 2026"} {
		if name, data := event(t, events); name != "clock-1" || !strings.Contains(data, want) {
			t.Errorf("event %s: %s, want %s", name, data, want)
		}
		if err := b.Write(t.Context(), func(x *book.Book) error {
			_, err := x.AddEvent(t.Context(), sessions.Event{ClockID: c.ID, At: time.Date(2026, 1, 2+n, 9, 0, 0, 0, time.UTC), Kind: sessions.EventWound})
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
}

// So many streams and no more. They end with the page, and what ends makes room.
func TestStreamsAreBounded(t *testing.T) {
	t.Parallel()
	b := serve(t, func(l *limits) { l.streams, l.end = 3, patience })
	b.add(t, sessions.Clock{Name: "Hall"})
	var open []*http.Response
	for range 3 {
		open = append(open, b.open(t, "/events"))
	}
	if status, text := b.get(t, "/events"); status != http.StatusServiceUnavailable {
		t.Errorf("status %d of one too many: %s", status, text)
	}
	if status, _ := b.get(t, "/"); status != http.StatusOK {
		t.Errorf("status %d of a page beside them", status)
	}
	if err := open[0].Body.Close(); err != nil {
		t.Fatal(err)
	}
	for { // it is seen to be gone a moment later
		again := b.open(t, "/events")
		if again.StatusCode == http.StatusOK {
			open[0] = again
			break
		}
		if err := again.Body.Close(); err != nil {
			t.Fatal(err)
		}
	}
	b.end()
	for _, answer := range open {
		if _, err := io.Copy(io.Discard, answer.Body); err != nil {
			t.Errorf("a stream is cut off: %v", err)
		}
	}
}

// A browser that takes nothing is dropped, and its room is free.
func TestSlowReaderIsDropped(t *testing.T) {
	t.Parallel()
	b := serve(t, func(l *limits) { l.event, l.streams = 20*time.Millisecond, 1 })
	over := make(chan error, 1)
	busy := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := b.stream(w, r, func(ctx context.Context, s *stream) (err error) {
			for err == nil {
				err = s.Send(7, "reading", make([]byte, 1<<16))
			}
			<-ctx.Done()
			over <- err
			return nil
		}); err != nil {
			over <- err
		}
	}))
	defer busy.Close()
	conn, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", busy.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if _, err := io.WriteString(conn, "GET / HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	if err := <-over; !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("it is dropped by %v", err)
	}
	b.streams <- struct{}{} // waits until there is room
	<-b.streams
}

// An event is written so that a browser reads it as it was sent, and one that comes back
// says what it had.
func TestEvents(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.Header.Set("Last-Event-ID", "41")
	err := b.stream(undelayed{w}, r, func(_ context.Context, s *stream) error {
		if s.Since != 41 {
			t.Errorf("it had %d", s.Since)
		}
		return errors.Join(s.Send(42, "reading", []byte("<b>63.50\r\n\nmm\revent: over")), s.Send(0, "over", nil))
	})
	if err != nil {
		t.Fatal(err)
	}
	const want = ":\n\nid: 42\nevent: reading\ndata: <b>63.50\ndata: \ndata: mm\ndata: event: over\n\nevent: over\ndata\n\n"
	if got := w.Body.String(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// The places of sessions with the first clock.
const measuringOne, timingOne = "/clocks/1/measuring", "/clocks/1/timing"

// undelayed takes deadlines, which it has no use for.
type undelayed struct{ *httptest.ResponseRecorder }

func (undelayed) SetWriteDeadline(time.Time) error { return nil }

// What was found is written as a sentence, however it was said.
func TestSentence(t *testing.T) {
	for remark, want := range map[string]string{
		"this computer's clock is not synchronised":       "This computer's clock is not synchronised.",
		"3600 beats an hour are expected: is that right?": "3600 beats an hour are expected: is that right?",
		"é was sent.": "É was sent.",
	} {
		if got := sentence(remark); got != want {
			t.Errorf("%q is %q, want %q", remark, got, want)
		}
	}
}

func TestHere(t *testing.T) {
	for advice, want := range map[string]string{
		"Check the dial daily.": "Check the dial daily.",
		"Turn it; note it with `evenbeat note --turns +0.2`; judge it.":                 "Turn it; note it; judge it.",
		"Take it back with `evenbeat undo check 3`, or 4 with `evenbeat undo check 4`.": "Take it back, or 4.",
		"It ends with `evenbeat ": "It ends with `evenbeat ",
	} {
		if got := here(advice); got != want {
			t.Errorf("%q: %q, want %q", advice, got, want)
		}
	}
}
