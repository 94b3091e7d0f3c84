package page

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// forgetful is a book that keeps nothing: a bubble's clock stands still while a file is
// waited for.
type forgetful struct{ beats int }

func (f *forgetful) AppendBeats(_ context.Context, _ int64, b []sessions.Beat) error {
	f.beats += len(b)
	return nil
}
func (*forgetful) AppendReferences(context.Context, int64, []sessions.Reference) error { return nil }
func (*forgetful) CompactBeats(context.Context, int64) error                           { return nil }
func (*forgetful) AddFault(context.Context, sessions.Fault) (int64, error)             { return 1, nil }
func (*forgetful) AddAir(context.Context, sessions.Air) (int64, error)                 { return 1, nil }
func (*forgetful) EndSession(context.Context, int64, time.Time) error                  { return nil }
func (*forgetful) Checkpoint(context.Context) error                                    { return nil }
func (*forgetful) StartSession(context.Context, sessions.Session) (int64, error)       { return 1, nil }
func (*forgetful) AddHostReading(context.Context, int64, sessions.HostReading) error   { return nil }

// seconds is a sensor that hears a beat each second, by a counter of a million a second.
type seconds struct{}

func (seconds) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	for i := 0; ; i++ {
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
			return nil
		}
		if err := deliver(devices.Chunk{At: stamp(), Bytes: fmt.Appendf(nil, "%d\r\n", (1000000+i*1000100)%(1<<32))}); err != nil {
			return err
		}
	}
}

func stamp() devices.Stamp {
	t := time.Now()
	return devices.Stamp{UTC: t.UnixNano(), Mono: t.UnixNano()}
}

// screen takes events and forgets them.
type screen struct {
	undelayed
	events int
}

func (s *screen) Write(b []byte) (int, error) {
	s.events++
	return len(b), nil
}

// A page that is open for a day on a session of timing takes no more memory in its last
// hour than in its second, and no more goroutines.
func TestADayOnThePage(t *testing.T) {
	served := serve(t, nil)
	served.add(t, sessions.Clock{Name: "Hall", BeatsPerHour: 3600})
	ins, err := served.Instrument("beat-counter")
	if err != nil {
		t.Fatal(err)
	}
	day := time.Duration(24)
	if testing.Short() {
		day = 6
	}
	synctest.Test(t, func(t *testing.T) {
		p := &Page{Workshop: served.Workshop, limits: usual(), streams: make(chan struct{}, 64)}
		ctx, end := context.WithCancel(t.Context())
		p.runs.begin(ctx)
		p.Write = func(_ context.Context, do func(*book.Book) error) error { return do(nil) }
		store := &forgetful{}
		one := &run{kind: sessions.SessionTime, clock: 1}
		err := p.start(one, func(context.Context, *book.Book) (func(context.Context) error, error) {
			s := p.NewTiming(sessions.Clock{ID: 1, Name: "Hall", BeatsPerHour: 3600}, live.Input{Instrument: ins, Port: "here", Source: seconds{}},
				live.TimingOptions{Now: stamp, EstimateEvery: 10 * time.Minute})
			p.runs.put(func() { one.face, one.timing = s, s })
			return func(ctx context.Context) error { return s.Run(ctx, store) }, nil
		})
		if err != nil {
			t.Fatal(err)
		}
		var open sync.WaitGroup
		seen := &screen{undelayed: undelayed{httptest.NewRecorder()}}
		open.Go(func() {
			r := httptest.NewRequestWithContext(ctx, http.MethodGet, timingOne+"/events", nil)
			r.SetPathValue("id", "1")
			if err := p.tellTiming(seen, r); err != nil {
				t.Error(err)
			}
		})
		use := func() (heap uint64, goroutines int) {
			synctest.Wait()
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			return m.HeapAlloc, runtime.NumGoroutine()
		}
		time.Sleep(2 * time.Hour)
		early, few := use()
		time.Sleep((day - 2) * time.Hour)
		late, many := use()
		t.Logf("%d beats, %d events; %d and %d kB, %d and %d goroutines", store.beats, seen.events, early>>10, late>>10, few, many)
		if late > early+512<<10 || many > few {
			t.Errorf("from the second hour to the last, %d bytes became %d and %d goroutines %d", early, late, few, many)
		}
		if least := int(day) * 3580; store.beats < least || seen.events < least {
			t.Errorf("%d beats and %d events in %d hours", store.beats, seen.events, day)
		}
		end()
		open.Wait()
		p.runs.wait(time.Minute)
	})
}
