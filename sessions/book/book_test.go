package book

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"evenbeat/sessions"
)

// noon is when the clocks of these tests were taken in.
var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func open(t *testing.T, path string, o Options) *Book {
	t.Helper()
	b, err := Open(t.Context(), path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	})
	return b
}

func newBook(t *testing.T) *Book {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "book.db"), Options{Create: true, Now: func() time.Time { return noon }})
}

func addClock(t *testing.T, b *Book, name string) sessions.Clock {
	t.Helper()
	c, err := b.AddClock(t.Context(), sessions.Clock{Name: name, Train: "96/8,80/10,75/10,30", BeatsPerHour: 3600,
		BeatsPerTooth: 2, HourArbor: 2, Rod: "steel", NutPitch: 0.0007, Zone: "Europe/Paris"})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func startSession(t *testing.T, b *Book, clock int64, kind string) int64 {
	t.Helper()
	id, err := b.StartSession(t.Context(), sessions.Session{ClockID: clock, Kind: kind, Part: "barrel", Plan: "mainspring",
		Port: "/dev/pts/3", Profile: "caliper", Started: noon, Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostSynced: true, HostKnown: true, HostMaxErrorS: 0.01}})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func kindOf(err error) Kind {
	if e, ok := errors.AsType[*Error](err); ok {
		return e.Kind
	}
	return ""
}

// A whole record goes in, the book is closed and opened again, and the same comes out.
func TestRecordComesBack(t *testing.T) {
	ctx := t.Context()
	path := filepath.Join(t.TempDir(), "a folder", "not yet there", "book.db")
	b := open(t, path, Options{Create: true, Now: func() time.Time { return noon }})
	c := addClock(t, b, "Hall clock")
	measure := startSession(t, b, c.ID, sessions.SessionMeasure)
	want := sessions.Record{Clock: c}
	for i, r := range []sessions.Reading{
		{Dimension: "zero", Kind: sessions.Outside, Value: 0.00001, Text: "0.01mm"},
		{Dimension: "bore", Kind: sessions.Inside, Value: 0.0635, Limit: 4e-5, Step: 1e-5, Text: "63,50mm", Instrument: "caliper"},
		{Dimension: "bore", Kind: sessions.Inside, Value: 0.0735, U: 1e-6, Rectangular: true, State: sessions.Doubtful, Why: "away from its fellows", Text: "73.5\u00a0mm"},
	} {
		r.SessionID, r.ClockID, r.Part, r.At = measure, c.ID, "barrel", noon.Add(time.Duration(i)*time.Second+7)
		if r.State == "" {
			r.State = sessions.Kept
		}
		id, err := b.AddReading(ctx, r)
		if err != nil {
			t.Fatal(err)
		}
		r.ID = id
		want.Readings = append(want.Readings, r)
	}
	if err := b.Undo(ctx, want.Readings[2].ID, "jaws closed: 0.00mm"); err != nil {
		t.Fatal(err)
	}
	want.Readings[2].State, want.Readings[2].Why = sessions.Undone, "jaws closed: 0.00mm"
	if err := b.EndSession(ctx, measure, noon.Add(time.Minute)); err != nil {
		t.Fatal(err)
	}
	want.Sessions = []sessions.Session{{ID: measure, ClockID: c.ID, Kind: sessions.SessionMeasure, Part: "barrel", Plan: "mainspring", Port: "/dev/pts/3",
		Profile: "caliper", Started: noon, Ended: noon.Add(time.Minute), Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostSynced: true, HostKnown: true, HostMaxErrorS: 0.01}}}
	want.Checks = []sessions.Check{{ID: 1, ClockID: c.ID, At: noon, ErrorS: -7.5, U: 0.2}}
	want.Events = []sessions.Event{{ID: 1, ClockID: c.ID, At: noon, Kind: sessions.EventAdjusted, Turns: -0.5, HasTurns: true, Text: "nut"},
		{ID: 2, ClockID: c.ID, At: noon, Kind: sessions.EventSet, Before: -60, HasBefore: true, HasAfter: true}}
	want.Air = []sessions.Air{{ID: 1, ClockID: c.ID, At: noon, TemperatureC: -3, HasTemperature: true, HumidityPct: 45, HasHumidity: true}}
	if _, err := b.Import(ctx, Incoming{Checks: want.Checks, Events: want.Events, Air: want.Air}); err != nil {
		t.Fatal(err)
	}
	got, err := open(t, path, Options{ReadOnly: true}).Record(ctx, c.ID)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("record differs (-want +got):\n%s", d)
	}
	if st, err := os.Stat(filepath.Dir(path)); err != nil || st.Mode().Perm() != 0o700 {
		t.Errorf("folder: %v %v, want mode 0700", st.Mode(), err)
	}
}

func TestClocks(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	if _, ok, err := b.CurrentClock(ctx); ok || err != nil {
		t.Errorf("clock in hand of an empty book: %v, %v", ok, err)
	}
	_, err := b.ClockByName(ctx, "Hall")
	if got, want := err.Error(), `no clock "Hall" in the book: it holds none yet: add one first`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	hall := addClock(t, b, "Hall")
	if c, ok, err := b.CurrentClock(ctx); !ok || err != nil || c != hall {
		t.Errorf("only clock: got %v, %v, %v", c, ok, err)
	}
	tower := addClock(t, b, "Tower")
	if _, ok, err := b.CurrentClock(ctx); ok || err != nil {
		t.Errorf("of two clocks none was chosen, got %v, %v", ok, err)
	}
	if err := b.UseClock(ctx, tower.ID); err != nil {
		t.Fatal(err)
	}
	if c, ok, err := b.CurrentClock(ctx); !ok || err != nil || c != tower {
		t.Errorf("chosen clock: got %v, %v, %v", c, ok, err)
	}
	if _, err := b.AddClock(ctx, sessions.Clock{Name: "TOWER"}); kindOf(err) != KindDuplicate {
		t.Errorf("second tower: got %v", err)
	}
	hall.Name, hall.Rod = "Hall clock", "invar"
	if err := b.EditClock(ctx, hall); err != nil {
		t.Fatal(err)
	}
	if c, err := b.ClockByName(ctx, "hall CLOCK"); err != nil || c != hall {
		t.Errorf("edited: got %v, %v, want %v", c, err, hall)
	}
	_, err = b.ClockByName(ctx, "Hall")
	if got, want := err.Error(), `no clock "Hall" in the book: it holds "Hall clock", "Tower"`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if err := b.EditClock(ctx, sessions.Clock{ID: 99, Name: "x"}); kindOf(err) != KindUnknown {
		t.Errorf("clock 99: got %v", err)
	}
}
