package recorder

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func stamp(ms int64) devices.Stamp {
	return devices.Stamp{UTC: noon.UnixNano() + ms*1e6, Mono: ms * 1e6}
}

func barrel() plan.Plan {
	return plan.Plan{Name: "barrel", Part: "barrel", Steps: []plan.Step{
		{Dimension: "bore", Count: 2, Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 0.1e-3},
		{Dimension: "length", Count: 1, Kind: sessions.Typed, Min: 0.1, Max: 20},
		{Dimension: "coils", Count: 1, Kind: sessions.Count, Min: 1, Max: 60},
	}}
}

// read is the caliper sending mm, typed a line from the keyboard in metres, key a key.
func read(ms int64, mm float64) Item {
	return Item{Said: devices.Said{Kind: devices.KindReading, At: stamp(ms), Text: fmt.Sprintf("%.2fmm\r\n", mm), Reading: devices.Reading{Value: mm * 1e-3, Step: 1e-5}}}
}
func typed(ms int64, s string) Item { return Item{Typed: s, At: stamp(ms)} }
func key(ms int64, c Command) Item  { return Item{Command: c, At: stamp(ms)} }
func plain(text string, _ plan.Step) (Entry, error) {
	v, err := strconv.ParseFloat(text, 64)
	return Entry{Number: quantity.Number{V: v}}, err
}

// heard writes an event down in a line.
func heard(a Event) string {
	next := " → " + a.Next.String()
	switch a.Kind {
	case Kept, Doubtful:
		return fmt.Sprintf("%d %s %s%s", a.Reading.ID, a.Reading.Dimension, a.Reading.State, next)
	case Undone:
		return fmt.Sprintf("undone %d%s", a.Undone, next)
	case Faulty:
		return fmt.Sprintf("fault %s %q%s", a.Fault.Kind, a.Fault.Text, next)
	case Skipped:
		return "skipped " + a.Dimension + next
	case Repeated:
		return "repeat " + a.Dimension + next
	case NothingToDo:
		return "nothing" + next
	case Waits:
		return fmt.Sprintf("waits %q%s", a.Fault.Text, next)
	}
	return "?"
}

// bench is a book with a session of measuring in it.
func bench(t *testing.T, log *[]string) (*book.Book, *Measuring) {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "book.db"), book.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	c, err := b.AddClock(t.Context(), sessions.Clock{Name: "Hall clock"})
	if err != nil {
		t.Fatal(err)
	}
	s := sessions.Session{ClockID: c.ID, Kind: sessions.SessionMeasure, Profile: "caliper", Started: noon}
	if s.ID, err = b.StartSession(t.Context(), s); err != nil {
		t.Fatal(err)
	}
	return b, &Measuring{Store: b, Session: s, Progress: plan.Start(barrel()), Parse: plain, TypedLimit: 1e-3, Log: zerolog.Nop(),
		Limit: func(sessions.Kind) float64 { return 4e-5 },
		Tell: func(a Event) error {
			*log = append(*log, heard(a))
			return nil
		}}
}

func queue(items ...Item) chan Item {
	in := make(chan Item, len(items))
	for _, it := range items {
		in <- it
	}
	return in
}

func TestMeasuring(t *testing.T) {
	var log []string
	b, m := bench(t, &log)
	force := read(13, 63.5)
	force.Said.Reading.Dim, force.Said.Text = devices.DimForce, "2N"
	err := m.Run(t.Context(), queue(
		key(1, Undo), read(2, 0.01), read(3, 63.5), key(4, Repeat), key(5, Undo),
		Item{Said: devices.Said{Kind: devices.KindFault, At: stamp(6), Fault: devices.FaultUnplugged, Text: "gone"}},
		read(7, 64.9), read(8, 0.02), read(9, 64.9), read(10, 63.52), force, typed(14, "2.66"),
		read(1015, 63.5), typed(1016, "many"), key(1017, Skip), key(1018, Undo), typed(1019, "12"),
		read(1020, 0), typed(1021, "13"), read(2022, 63.5)))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		"nothing → bore 1 of 2",
		"1 zero kept → bore 1 of 2",
		"2 bore kept → bore 2 of 2",
		"repeat bore → bore 2 of 3",
		"undone 0 → bore 2 of 2",
		`fault unplugged "gone" → bore 2 of 2`,
		"3 bore doubtful → bore 2 of 2",
		"undone 3 → bore 2 of 2",
		"4 bore doubtful → bore 2 of 2",
		"5 bore kept → length",
		`fault not asked for "2N: no length" → length`,
		"6 length kept → coils",
		`fault not asked for "63.50mm\r\n: coils is a bare number, to be typed" → coils`,
		`fault garbage "strconv.ParseFloat: parsing \"many\": invalid syntax" → coils`,
		"skipped coils → ",
		"undone 0 → coils",
		"7 coils kept → ",
		"undone 7 → coils",
		"8 coils kept → ",
		`fault not asked for "63.50mm\r\n" → `,
	}
	if d := cmp.Diff(want, log); d != "" {
		t.Errorf("heard (-want +got):\n%s", d)
	}
	r, err := b.Record(t.Context(), m.Session.ClockID)
	if err != nil {
		t.Fatal(err)
	}
	var states []sessions.State
	for _, x := range r.Readings {
		states = append(states, x.State)
	}
	if w := []sessions.State{"kept", "kept", "undone", "doubtful", "kept", "kept", "undone", "kept"}; !slices.Equal(states, w) {
		t.Errorf("states %v, want %v", states, w)
	}
	bore := sessions.Reading{ID: 2, SessionID: 1, ClockID: 1, At: noon.Add(3 * time.Millisecond), Part: "barrel", Dimension: "bore", Kind: sessions.Inside, Value: 63.5 * 1e-3,
		Limit: 4e-5, Step: 1e-5, Text: "63.50mm\r\n", Instrument: "caliper", State: sessions.Kept}
	length := sessions.Reading{ID: 6, SessionID: 1, ClockID: 1, At: noon.Add(14 * time.Millisecond), Part: "barrel", Dimension: "length", Kind: sessions.Typed, Value: 2.66,
		Limit: 1e-3, Text: "2.66", Instrument: "typed", State: sessions.Kept}
	if d := cmp.Diff([]sessions.Reading{bore, length}, []sessions.Reading{r.Readings[1], r.Readings[5]}); d != "" {
		t.Errorf("readings (-want +got):\n%s", d)
	}
	if got := r.Readings[2].Why; got != "jaws closed and sent: 0.02mm\r\n" {
		t.Errorf("undone because %q", got)
	}
	if got := r.Sessions[0].Ended; !got.Equal(noon.Add(2022 * time.Millisecond)) {
		t.Errorf("ended %v, want at the last stamp", got)
	}
}

// A reading is taken back by its number, though others came after it.
func TestMeasuringTakesBack(t *testing.T) {
	var log []string
	b, m := bench(t, &log)
	if err := m.Run(t.Context(), queue(read(1, 63.5), read(1002, 63.52), Item{Reading: 1, At: stamp(1003)},
		Item{Reading: 1}, Item{Reading: 9}, key(1004, Finish))); err != nil {
		t.Fatal(err)
	}
	want := []string{"1 bore kept → bore 2 of 2", "2 bore kept → length", "undone 1 → bore 2 of 2", "nothing → bore 2 of 2", "nothing → bore 2 of 2"}
	if d := cmp.Diff(want, log); d != "" {
		t.Errorf("heard (-want +got):\n%s", d)
	}
	all, err := b.Readings(t.Context(), m.Session.ClockID)
	if err != nil || all[0].State != sessions.Undone || all[1].State != sessions.Kept {
		t.Errorf("%+v, %v; want the first alone undone", all, err)
	}
}

// Each way to end a session keeps what had come and ends the session in the book.
func TestMeasuringEnds(t *testing.T) {
	broken := errors.New("nobody listens")
	for _, c := range []struct {
		name  string
		err   error
		setup func(*Measuring, chan Item, context.CancelFunc)
	}{
		{"key", nil, func(_ *Measuring, in chan Item, _ context.CancelFunc) { in <- key(2, Finish) }},
		{"no more lines", nil, func(_ *Measuring, in chan Item, _ context.CancelFunc) { in <- Item{Command: Finish} }},
		{"end of input", nil, func(_ *Measuring, in chan Item, _ context.CancelFunc) { close(in) }},
		{"interrupt", nil, func(_ *Measuring, _ chan Item, stop context.CancelFunc) { stop() }},
		{"no listener", broken, func(m *Measuring, _ chan Item, _ context.CancelFunc) { m.Tell = func(Event) error { return broken } }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var log []string
			b, m := bench(t, &log)
			ctx, stop := context.WithCancel(t.Context())
			defer stop()
			in := make(chan Item, 2)
			in <- read(1, 63.5)
			c.setup(m, in, stop)
			if err := m.Run(ctx, in); !errors.Is(err, c.err) {
				t.Fatalf("got %v, want %v", err, c.err)
			}
			r, err := b.Record(t.Context(), m.Session.ClockID)
			if err != nil || len(r.Readings) != 1 || r.Sessions[0].Ended.IsZero() {
				t.Errorf("%d readings, ended %v, %v; want 1, ended", len(r.Readings), r.Sessions[0].Ended, err)
			}
			end := noon.Add(time.Millisecond) // the reading's stamp
			if c.name == "key" {
				end = noon.Add(2 * time.Millisecond)
			}
			if got := r.Sessions[0].Ended; !got.Equal(end) {
				t.Errorf("ended %v, want %v", got, end)
			}
			if want := []string{"1 bore kept → bore 2 of 2"}; c.err == nil && !slices.Equal(log, want) {
				t.Errorf("heard %q, want %q", log, want)
			}
		})
	}
}

// full is a store whose disk is full whenever it says so.
type full struct {
	ReadingStore
	full func() bool
}

func (f *full) AddReading(ctx context.Context, r sessions.Reading) (int64, error) {
	if f.full() {
		return 0, errNoRoom
	}
	return f.ReadingStore.AddReading(ctx, r)
}

func (f *full) Undo(ctx context.Context, id int64, why string) error {
	if f.full() {
		return errNoRoom
	}
	return f.ReadingStore.Undo(ctx, id, why)
}

func (f *full) AddFault(ctx context.Context, x sessions.Fault) (int64, error) {
	if f.full() {
		return 0, errNoRoom
	}
	return f.ReadingStore.AddFault(ctx, x)
}

// What isn't on the disk isn't acknowledged, and the plan doesn't move on: it waits, and
// that is told. With room it is kept, in order, and the pause with it. A session that is
// ended before says what is lost.
func TestMeasuringDiskFull(t *testing.T) {
	for _, room := range []bool{false, true} {
		var log []string
		b, m := bench(t, &log)
		var no atomic.Bool // the recorder's own timer reads it too
		m.Store = &full{b, no.Load}
		synctest.Test(t, func(t *testing.T) {
			in, done := make(chan Item), make(chan error, 1)
			go func() { done <- m.Run(context.Background(), in) }()
			in <- read(1, 63.5)
			synctest.Wait()
			no.Store(true)
			in <- read(2, 0.01)
			in <- key(3, Skip)
			in <- typed(4, "2.66")
			time.Sleep(time.Hour)
			synctest.Wait()
			want := []string{
				"1 bore kept → bore 2 of 2",
				`waits "recording waits for room, with what comes in memory (at most 65536 lines): disk full" → bore 2 of 2`,
				`waits "0.01mm waits: it is not kept yet" → bore 2 of 2`,
				`waits "skip waits: it is not kept yet" → bore 2 of 2`,
				`waits "2.66 waits: it is not kept yet" → bore 2 of 2`,
			}
			if d := cmp.Diff(want, log); d != "" {
				t.Errorf("heard (-want +got):\n%s", d)
			}
			if next, _ := m.Progress.Next(); next.String() != "bore 2 of 2" {
				t.Errorf("plan wants %s", next)
			}
			if no.Store(!room); room {
				time.Sleep(holdFor)
				synctest.Wait()
				want = []string{"undone 1 → bore 1 of 2", "skipped bore → length", "2 length kept → coils",
					`fault paused "the disk was full for 1h0m1s: what came meanwhile waited in memory and is kept" → coils`}
				if d := cmp.Diff(want, log[5:]); d != "" {
					t.Errorf("heard (-want +got):\n%s", d)
				}
			}
			in <- key(5, Finish)
			switch err := <-done; {
			case room && err != nil:
				t.Error(err)
			case !room && (!errors.Is(err, errNoRoom) || err.Error() != "the last 3 lines that came are not kept: disk full"):
				t.Errorf("got %v", err)
			}
		})
	}
}

// A disk that is full again behind the plan's last reading is waited for too.
func TestMeasuringPausedAtTheEnd(t *testing.T) {
	var log []string
	b, m := bench(t, &log)
	writes := 0
	m.Store = &full{b, func() bool { writes++; return writes == 4 || writes == 5 || writes == 8 }}
	synctest.Test(t, func(t *testing.T) {
		if err := m.Run(context.Background(), queue(read(1, 63.5), read(2, 63.52), typed(3, "2.66"), typed(4, "12"), typed(5, "13"))); err != nil {
			t.Error(err)
		}
	})
	want := []string{"4 coils kept → ", `fault not asked for "13" → `, `fault paused "the disk was full for 2s: what came meanwhile waited in memory and is kept" → `}
	if got := log[max(0, len(log)-3):]; !slices.Equal(got, want) {
		t.Errorf("heard at the end %q, want %q", got, want)
	}
}

// Whichever writes fail for want of room, what is told and kept in the end is the same.
func TestMeasuringPauses(t *testing.T) {
	run := func(disk func() bool) (log []string, _ sessions.Record) {
		b, m := bench(t, &log)
		store := &full{b, disk}
		m.Store = store
		synctest.Test(t, func(t *testing.T) {
			in, done := make(chan Item), make(chan error, 1)
			go func() { done <- m.Run(context.Background(), in) }()
			for _, it := range []Item{read(2, 0.01), read(3, 63.5), key(4, Repeat), key(5, Undo), read(7, 64.9), read(8, 0.02),
				read(9, 64.9), read(10, 63.52), typed(14, "2.66"), read(15, 63.5), typed(16, "many"), key(17, Undo), typed(18, "2.67")} {
				in <- it
				time.Sleep(300 * time.Millisecond)
			}
			synctest.Wait()
			store.full = func() bool { return false }
			in <- key(19, Finish)
			if err := <-done; err != nil {
				t.Error(err)
			}
		})
		log = slices.DeleteFunc(log, func(s string) bool { return strings.HasPrefix(s, "waits") || strings.HasPrefix(s, "fault paused") })
		r, err := b.Record(t.Context(), m.Session.ClockID)
		if err != nil {
			t.Fatal(err)
		}
		r.Clock.Created = time.Time{} // by the real clock
		return log, r
	}
	told, kept := run(func() bool { return false })
	rng := rand.New(rand.NewPCG(3, 0))
	for range 4 {
		log, r := run(func() bool { return rng.IntN(2) == 0 })
		if d := cmp.Diff(told, log) + cmp.Diff(kept, r); d != "" {
			t.Fatalf("with a disk that is full now and then (-want +got):\n%s", d)
		}
	}
}

// counted counts the checkpoints.
type counted struct {
	ReadingStore
	copies int
}

func (c *counted) Checkpoint(ctx context.Context) error {
	c.copies++
	return c.ReadingStore.Checkpoint(ctx)
}

// A copy of the book's file holds a reading two seconds after it was told of, and the
// whole session at its end.
func TestMeasuringCheckpoints(t *testing.T) {
	var log []string
	b, m := bench(t, &log)
	store := &counted{ReadingStore: b}
	m.Store = store
	synctest.Test(t, func(t *testing.T) {
		in, done := make(chan Item), make(chan error, 1)
		go func() { done <- m.Run(context.Background(), in) }()
		in <- read(1, 63.5)
		time.Sleep(checkpointAfter)
		synctest.Wait()
		if len(log) != 1 || store.copies != 1 {
			t.Errorf("two seconds after a reading: told %q, %d checkpoints", log, store.copies)
		}
		time.Sleep(time.Hour)
		in <- key(2, Finish)
		if err := <-done; err != nil || store.copies != 2 {
			t.Errorf("%v, %d checkpoints; want another at the end alone", err, store.copies)
		}
	})
}
