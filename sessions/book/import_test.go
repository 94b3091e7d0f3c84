package book

import (
	"errors"
	"iter"
	"testing"
	"time"

	"evenbeat/sessions"
)

// TestImportBeats holds a session longer than a chunk against what was given, and
// one whose source fails half-way against nothing at all.
func TestImportBeats(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	c, err := b.AddClock(ctx, sessions.Clock{Name: "Barn"})
	if err != nil {
		t.Fatal(err)
	}
	const n = 2*largeChunk + 7
	source := func(fail error) iter.Seq2[[]sessions.Beat, error] {
		return func(yield func([]sessions.Beat, error) bool) {
			var chunk []sessions.Beat
			for i := range int64(n) {
				chunk = append(chunk, sessions.Beat{Count: uint64(i * 500_000_000), HostMono: i * 500_000_000, HostUTC: 1e18 + i*500_000_000})
				if len(chunk) == 1000 || i == n-1 {
					if !yield(chunk, nil) {
						return
					}
					chunk = chunk[:0]
				}
			}
			if fail != nil {
				yield(nil, fail)
			}
		}
	}
	ses := sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: time.Unix(0, 1e18), Ended: time.Unix(0, 1e18).Add(time.Hour),
		Timing: sessions.Timing{CountRate: 1e9, CountBits: 64}}
	got, err := b.Import(ctx, Incoming{Session: ses, Beats: source(nil)})
	if err != nil || got != (Imported{New: n}) {
		t.Fatalf("%+v, %v", got, err)
	}
	const id = 1
	var seen int64
	for chunk, err := range b.Beats(ctx, id) {
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range chunk {
			if want := uint64(seen * 500_000_000); x.Count != want {
				t.Fatalf("beat %d: count %d, want %d", seen, x.Count, want)
			}
			seen++
		}
	}
	if seen != n {
		t.Errorf("%d beats, want %d", seen, n)
	}
	broken := errors.New("row 40000: time_s is no number")
	if _, err := b.Import(ctx, Incoming{Session: ses, Beats: source(broken)}); !errors.Is(err, broken) {
		t.Errorf("error %v, want the source's", err)
	}
	all, err := b.Sessions(ctx, c.ID)
	if err != nil || len(all) != 1 || all[0].Ended.IsZero() {
		t.Errorf("sessions after a failed import: %+v, %v; want the first alone, ended", all, err)
	}
}

// brings is one row of each kind, for a clock, so many hours after noon.
func brings(clock int64, hours int) Incoming {
	at := noon.Add(time.Duration(hours) * time.Hour)
	return Incoming{
		Readings: []sessions.Reading{{ClockID: clock, At: at, Part: "barrel", Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Undone, Text: "60mm"}},
		Checks:   []sessions.Check{{ClockID: clock, At: at, ErrorS: 1, U: 0.1}},
		Events:   []sessions.Event{{ClockID: clock, At: at, Kind: sessions.EventRemark, Text: "again"}},
		Air:      []sessions.Air{{ClockID: clock, At: at, TemperatureC: 20, HasTemperature: true}},

		Particulars: []sessions.Particular{{ClockID: clock, At: at, Part: "barrel", Name: sessions.SpringEnd, Value: "hole"}},
		Session: sessions.Session{ClockID: clock, Kind: sessions.SessionTime, Started: at, Ended: at,
			Timing: sessions.Timing{CountRate: 1e9, CountBits: 64}},
		Beats: func(yield func([]sessions.Beat, error) bool) { yield(sensor(uint64(hours), 20000), nil) },
	}
}

func join(all ...Incoming) Incoming {
	out := all[0]
	for _, in := range all[1:] {
		out.Readings, out.Checks = append(out.Readings, in.Readings...), append(out.Checks, in.Checks...)
		out.Events, out.Air = append(out.Events, in.Events...), append(out.Air, in.Air...)
		out.Particulars = append(out.Particulars, in.Particulars...)
	}
	return out
}

// TestImportNothingTwice brings rows again in several ways: those that are in the book,
// whatever became of them there, aren't added.
func TestImportNothingTwice(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	bring := func(what string, in Incoming, want Imported) {
		t.Helper()
		got, err := b.Import(ctx, in)
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v; want %+v", what, got, err, want)
		}
	}
	first := brings(0, 1)
	first.Clock = sessions.Clock{Name: "Barn"}
	bring("a clock with its rows", first, Imported{New: 20005})
	bring("the same", brings(1, 1), Imported{Known: 20005})
	bring("another hour", brings(1, 2), Imported{New: 20005})
	bring("one known, twice one that is new", join(brings(1, 1), brings(1, 3), brings(1, 3)), Imported{New: 10, Known: 20005})
	bring("twice what is there twice", join(brings(1, 3), brings(1, 3)), Imported{New: 20000, Known: 10})
	other, err := b.AddClock(ctx, sessions.Clock{Name: "Hall"})
	if err != nil {
		t.Fatal(err)
	}
	bring("the same of another clock", brings(other.ID, 1), Imported{New: 20005})

	for _, x := range []struct {
		thing Thing
		id    int64
	}{{ThingCheck, 1}, {ThingNote, 1}, {ThingAir, 1}, {ThingReading, 1}, {ThingSession, 1}, {ThingParticular, 1}} {
		if err := b.Withdraw(ctx, x.thing, x.id, "a slip"); err != nil {
			t.Fatal(err)
		}
	}
	bring("what was taken back", brings(1, 1), Imported{Known: 20005})
	if err := b.MoveSession(ctx, 1, other.ID, ""); err != nil {
		t.Fatal(err)
	}
	moved := brings(1, 1)
	moved.Readings, moved.Checks, moved.Events, moved.Air, moved.Particulars = nil, nil, nil, nil, nil
	bring("beats of a session that was moved", moved, Imported{New: 20000})
}

// TestImportAllOrNothing has each kind of row fail behind good ones of all kinds.
func TestImportAllOrNothing(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	count := func() (n int64) {
		t.Helper()
		for _, table := range []string{"clocks", "clock_versions", "readings", "marks", "checks", "events", "air", "particulars", "sessions", "session_ends", "beat_chunks"} {
			var rows int64
			if err := b.db.QueryRowContext(ctx, "SELECT count(*) FROM "+table).Scan(&rows); err != nil {
				t.Fatal(err)
			}
			n += rows
		}
		return n
	}
	broken := errors.New("row 3: time_s is no number")
	for name, spoil := range map[string]func(*Incoming){
		"readings": func(in *Incoming) { in.Readings[1].Dimension = "" },
		"checks":   func(in *Incoming) { in.Checks[1].U = -1 },
		"events":   func(in *Incoming) { in.Events[1].Kind = "dusted" },
		"air":      func(in *Incoming) { in.Air[1].HasTemperature = false },
		"told":     func(in *Incoming) { in.Particulars[1].Name = "owner" },
		"session":  func(in *Incoming) { in.Session.Kind = "listen" },
		"clock":    func(in *Incoming) { in.Checks[1].ClockID = 7 },
		"beats": func(in *Incoming) {
			beats := in.Beats
			in.Beats = func(yield func([]sessions.Beat, error) bool) {
				for some := range beats {
					if !yield(some, nil) {
						return
					}
				}
				yield(nil, broken)
			}
		},
	} {
		in := join(brings(0, 1), brings(0, 2))
		in.Clock = sessions.Clock{Name: "Barn"}
		spoil(&in)
		if got, err := b.Import(ctx, in); err == nil || got != (Imported{}) {
			t.Errorf("%s: %+v, %v; want an error and nothing imported", name, got, err)
		}
		if n := count(); n != 0 {
			t.Errorf("%s: %d rows are in the book", name, n)
		}
	}
	in := join(brings(0, 1), brings(0, 2))
	in.Clock = sessions.Clock{Name: "Barn"}
	if got, err := b.Import(ctx, in); err != nil || got != (Imported{New: 20010}) || count() == 0 {
		t.Errorf("without a fault: %+v, %v", got, err)
	}
}
