package live

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

func timingOf(t *testing.T, src Source) *Timing {
	t.Helper()
	return onBench(t).NewTiming(sessions.Clock{Name: "Hall", BeatsPerHour: 3600}, sensorAt(src), TimingOptions{Now: now, EstimateEvery: time.Second,
		ReadHost: func() (sessions.HostReading, bool) {
			return sessions.HostReading{Host: "a", Boot: "b", MonoNs: now().Mono, RawNs: now().Mono}, true
		}})
}

// measuringOf is a session of a plan of n bores, at a source or with typed readings.
func measuringOf(t *testing.T, n int, src Source) *Measuring {
	t.Helper()
	var in Input
	if src != nil {
		in = caliperAt(src)
	}
	m := onBench(t).NewMeasuring(MeasuringOptions{Clock: sessions.Clock{Name: "Hall"}, Progress: plan.Start(bores(n)), Inputs: []Input{in}, Now: now})
	return m
}

// Two subscribers type and undo at once: each line is in the book, each undo took one
// reading back, and the events are in one order for both.
func TestCommandsFromTwo(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const each = 50
		store := &memory{}
		m := measuringOf(t, 3*each, nil)
		told := make([][]Event, 2)
		var all sync.WaitGroup
		for i := range told {
			events := m.Subscribe(t.Context())
			all.Go(func() { told[i] = slices.Collect(events) })
		}
		var typing sync.WaitGroup
		for i := range 2 {
			typing.Go(func() {
				for n := range each {
					if err := m.Type(t.Context(), fmt.Sprintf("63.%d%dmm", i, n%10)); err != nil {
						t.Error(err)
					}
					if n%10 != 9 {
						continue
					}
					if err := m.Do(t.Context(), recorder.Undo); err != nil {
						t.Error(err)
					}
				}
			})
		}
		go func() {
			typing.Wait()
			if err := m.Close(t.Context()); err != nil {
				t.Error(err)
			}
		}()
		if err := m.Run(t.Context(), store); err != nil {
			t.Fatal(err)
		}
		all.Wait()
		if n := len(store.readings); n != 2*each {
			t.Errorf("%d readings, want %d", n, 2*each)
		}
		undone := slices.Clone(store.undone)
		slices.Sort(undone)
		if n := len(slices.Compact(undone)); n != 10 || len(store.undone) != 10 {
			t.Errorf("undone %v, want ten readings", store.undone)
		}
		s, standing := m.State(), 0
		for _, r := range s.Readings {
			if !r.Undone {
				standing++
			}
		}
		if standing != 2*each-10 || s.Next.String() != fmt.Sprintf("bore %d of %d", standing+1, 3*each) {
			t.Errorf("%d readings stand and %s is asked for", standing, s.Next)
		}
		for i := range told[0] {
			if told[0][i].Seq != int64(i) || told[1][i].Kind != told[0][i].Kind {
				t.Fatalf("event %d: %s and %s", i, told[0][i].Kind, told[1][i].Kind)
			}
		}
		if err := m.Type(t.Context(), "63mm"); !errors.Is(err, ErrOver) {
			t.Errorf("after the end: got %v, want %v", err, ErrOver)
		}
	})
}

// A reading is told of as heard at once, as kept only when the book has it.
func TestKeptOnceInTheBook(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{hold: make(chan struct{})}
		m := measuringOf(t, 1, calipers(1))
		var kinds []recorder.Kind
		events := m.Subscribe(t.Context())
		done := make(chan error, 1)
		go func() { done <- m.Run(t.Context(), store) }()
		read := make(chan struct{})
		go func() {
			for e := range events {
				kinds = append(kinds, e.Kind)
				if e.Kind == recorder.Kept && store.kept() != 1 {
					t.Error("told of before the book had it")
				}
			}
			close(read)
		}()
		time.Sleep(time.Hour)
		synctest.Wait()
		if want := []recorder.Kind{Whole, Started, Heard}; !slices.Equal(kinds, want) {
			t.Errorf("while the disk stands still: told %q, want %q", kinds, want)
		}
		close(store.hold)
		if err := <-done; err != nil {
			t.Error(err)
		}
		<-read
		if want := []recorder.Kind{Whole, Started, Heard, recorder.Kept, Ended}; !slices.Equal(kinds, want) {
			t.Errorf("told %q, want %q", kinds, want)
		}
	})
}

var errBroken = errors.New("disk broken")

// What can't be written ends a session, although its instrument goes on, with one
// error for who runs it and for who listens.
func TestDiskBroken(t *testing.T) {
	for name, run := range map[string]func(t *testing.T, src *line) (*State, error){
		"measuring": func(t *testing.T, src *line) (*State, error) {
			m := measuringOf(t, 9, src)
			err := m.Run(t.Context(), &memory{full: errBroken})
			return m.State(), err
		},
		"timing": func(t *testing.T, src *line) (*State, error) {
			m := timingOf(t, src)
			err := m.Run(t.Context(), &memory{full: errBroken})
			return m.State(), err
		},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				src := calipers(9)
				s, err := run(t, src)
				if !errors.Is(err, errBroken) || !errors.Is(s.Err, errBroken) || !s.Over || len(s.Readings) != 0 {
					t.Errorf("got %v, state %+v", err, s)
				}
				if !src.closed {
					t.Error("the instrument's port was left open")
				}
			})
		})
	}
}

// breaks is broken once the session is in the book.
type breaks struct{ memory }

func (f *breaks) StartSession(ctx context.Context, s sessions.Session) (int64, error) {
	id, err := f.memory.StartSession(ctx, s)
	f.full = errBroken
	return id, err
}

// The disk breaks while a clock is timed: the session ends by itself.
func TestDiskBreaksWhileTiming(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src := sensor(1000)
		rec := timingOf(t, src)
		began := time.Now()
		if err := rec.Run(t.Context(), &breaks{}); !errors.Is(err, errBroken) || !src.closed {
			t.Errorf("got %v, port closed %v", err, src.closed)
		}
		if took := time.Since(began); took > 3*time.Second {
			t.Errorf("the session went on for %v", took)
		}
	})
}

// fill makes the disk full, or makes room.
func (m *memory) fill(full bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.full = nil; full {
		m.full = &book.Error{Kind: book.KindFull, What: "disk full"}
	}
}

// A full disk is told as a warning, once, and counts no beat as kept. With room the session
// goes on, and misses none.
func TestDiskFillsWhileTiming(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		rec := timingOf(t, sensor(1000))
		done := make(chan error, 1)
		go func() { done <- rec.Run(t.Context(), store) }()
		for _, c := range []struct {
			full            bool
			beats, warnings int
		}{{false, 30, 0}, {true, 30, 1}, {false, 90, 1}} {
			store.fill(c.full)
			time.Sleep(30*time.Second + 500*time.Millisecond)
			synctest.Wait()
			if s := rec.State(); s.Beats < int64(c.beats)-1 || s.Beats > int64(c.beats)+1 || len(s.Warnings) != c.warnings {
				t.Errorf("full %v: %d beats kept, want %d, warnings %q", c.full, s.Beats, c.beats, s.Warnings)
			}
		}
		rec.Finish()
		if err := <-done; err != nil || len(store.faults) != 1 || store.faults[0].Kind != string(recorder.Paused) {
			t.Errorf("faults %+v, %v", store.faults, err)
		}
	})
}

// The same while a clock is measured: each reading is told of as waiting, and as kept only
// once it is.
func TestDiskFillsWhileMeasuring(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		m := measuringOf(t, 3, nil)
		done := make(chan error, 1)
		go func() { done <- m.Run(t.Context(), store) }()
		for i, c := range []struct {
			full           bool
			kept, warnings int
		}{{false, 1, 0}, {true, 1, 2}, {false, 3, 2}} {
			store.fill(c.full)
			if i == 2 { // the reading that waits is kept before the next is typed
				time.Sleep(time.Second)
			}
			if err := m.Type(t.Context(), "63.5mm"); err != nil {
				t.Error(err)
			}
			synctest.Wait()
			s := m.State()
			if len(s.Readings) != c.kept || len(s.Warnings) != c.warnings {
				t.Errorf("full %v: %d readings kept, warnings %q", c.full, len(s.Readings), s.Warnings)
			}
			if i == 1 && s.Warnings[1] != "63.5mm waits: it is not kept yet" {
				t.Errorf("warnings %q", s.Warnings)
			}
		}
		if err := <-done; err != nil || len(store.faults) != 1 || store.faults[0].Kind != string(recorder.Paused) {
			t.Errorf("faults %+v, %v", store.faults, err)
		}
	})
}

// A clock that is hardly heard is kept, and the error says that it is too little.
func TestTooFewBeats(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		rec := timingOf(t, sensor(3))
		ctx, stop := context.WithTimeout(t.Context(), 10*time.Second)
		defer stop()
		err := rec.Run(ctx, store)
		if _, ok := errors.AsType[*beat.TooFewError](err); !ok || len(store.beats) != 3 {
			t.Errorf("%d beats, %v; want 3 and that they are too few", len(store.beats), err)
		}
		if len(store.host) != 2 || store.host[1].MonoNs <= store.host[0].MonoNs {
			t.Errorf("the computer told %v of its clock; want it at the beginning and at the end", store.host)
		}
	})
}

// silent is a port at which nothing speaks.
type silent struct{ closed bool }

func (s *silent) Name() string { return "here" }
func (s *silent) Run(ctx context.Context, _ func(devices.Chunk) error) error {
	<-ctx.Done()
	s.closed = true
	return nil
}

// A search in vain is ended by Finish; nothing is begun in the book.
func TestFinishWhileSearching(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		port, store := &silent{}, &memory{}
		in := Input{Search: &Search{bench: onBench(t), lines: []recognise.Line{port}, expected: caliperAt(nil).Instrument, o: SearchOptions{Wanted: MeasuresLengths}}}
		m := onBench(t).NewMeasuring(MeasuringOptions{Clock: sessions.Clock{Name: "Hall"}, Progress: plan.Start(bores(3)), Inputs: []Input{in}, Now: now})
		done := make(chan error, 1)
		go func() { done <- m.Run(t.Context(), store) }()
		synctest.Wait()
		if err := m.Do(t.Context(), recorder.Finish); err != nil {
			t.Error(err)
		}
		if err := <-done; err != nil || len(store.sessions) != 0 || !port.closed {
			t.Errorf("got %v, %d sessions, port closed %v; want none begun, closed", err, len(store.sessions), port.closed)
		}
		if s := m.State(); !s.Over || s.Session.ID != 0 || s.Typed {
			t.Errorf("state %+v", s)
		}
	})
}

// An instrument that is found while the session waits: what it said meanwhile is the
// first reading.
func TestFound(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store, b := &memory{}, onBench(t)
		ins, err := b.Instrument("caliper")
		if err != nil {
			t.Fatal(err)
		}
		speaks := &named{calipers(2)}
		in := Input{Search: &Search{bench: b, lines: []recognise.Line{speaks}, expected: ins, o: SearchOptions{Wanted: MeasuresLengths}}}
		m := b.NewMeasuring(MeasuringOptions{Clock: sessions.Clock{Name: "Hall"}, Progress: plan.Start(bores(2)), Inputs: []Input{in}, Now: now})
		events := m.Subscribe(t.Context())
		if err := m.Run(t.Context(), store); err != nil {
			t.Fatal(err)
		}
		var kinds []recorder.Kind
		for e := range events {
			kinds = append(kinds, e.Kind)
			if e.Kind == Recognised && (e.Search.Port != "here" || e.Search.Finding.Candidates[0].Format != "text-length") {
				t.Errorf("recognised %+v", e.Search)
			}
		}
		want := []recorder.Kind{Whole, Searching, Recognised, Started, Heard, recorder.Kept, Heard, recorder.Kept, Ended}
		if !slices.Equal(kinds, want) {
			t.Errorf("told %q, want %q", kinds, want)
		}
		if len(store.readings) != 2 || store.sessions[0].Port != "here" || store.sessions[0].Profile != "caliper" {
			t.Errorf("%d readings in session %+v", len(store.readings), store.sessions)
		}
	})
}

// named is a line as a search has it: it can pause.
type named struct{ *line }

func (n *named) Name() string { return "here" }
func (n *named) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	sent := 0
	text := n.text
	n.text = func(i int) string { sent++; return text(i) }
	err := n.line.Run(ctx, deliver)
	if errors.Is(err, port.ErrPause) {
		n.lines, n.text, n.closed = n.lines-sent, text, false
	}
	return err
}
