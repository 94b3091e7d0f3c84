package book

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"evenbeat/sessions"
)

// What is taken back is out of the record's rows, is still shown, and to take it back
// twice is no error. A session takes its readings with it.
func TestWithdraw(t *testing.T) {
	ctx := t.Context()
	b, c, ses := filled(t)
	before, err := b.Record(ctx, c.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(before.Checks) != 1 || len(before.Events) != 1 || len(before.Air) != 1 || len(before.Sessions) != 1 || before.Particular("barrel", sessions.SpringEnd).Value != "hole" {
		t.Fatalf("before: %+v", before)
	}
	id, err := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: c.ID, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Kept})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		for thing, id := range map[Thing]int64{ThingCheck: before.Checks[0].ID, ThingNote: before.Events[0].ID, ThingAir: before.Air[0].ID, ThingSession: ses, ThingParticular: before.Particulars[3].ID} {
			if err := b.Withdraw(ctx, thing, id, "slip"); err != nil {
				t.Errorf("%s: %v", thing, err)
			}
		}
	}
	r, err := b.Record(ctx, c.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Checks)+len(r.Events)+len(r.Air)+len(r.Sessions) != 0 || len(r.Particulars) != 3 || r.Particular("barrel", sessions.SpringEnd).Value != "loop" {
		t.Errorf("taken back, and still there: %+v", r)
	}
	w := r.Withdrawn
	if len(w.Checks) != 1 || w.Checks[0] != (sessions.TakenBack[sessions.Check]{Row: before.Checks[0], Why: "slip"}) || len(w.Events) != 1 || len(w.Air) != 1 || len(w.Sessions) != 1 || len(w.Particulars) != 1 {
		t.Errorf("not shown as taken back: %+v", w)
	}
	for _, x := range r.Readings {
		if x.ID == id && (x.State != sessions.Undone || x.Why != "session 1 was taken back") {
			t.Errorf("reading %d of the session: %s, %q", x.ID, x.State, x.Why)
		}
	}
	if all, err := b.Sessions(ctx, c.ID); err != nil || len(all) != 0 {
		t.Errorf("sessions: %v, %v", all, err)
	}
	for what, err := range map[string]error{
		"there is no check 99 in the book": b.Withdraw(ctx, ThingCheck, 99, ""),
		"there is no note 99 in the book":  b.Withdraw(ctx, ThingNote, 99, ""),
		"a dial can't be taken back":       b.Withdraw(ctx, "dial", 1, ""),
	} {
		if e := (*Error)(nil); !errors.As(err, &e) || e.What != what {
			t.Errorf("got %v, want %s", err, what)
		}
	}
	sound(t, b)
}

// A session that was tagged wrongly is moved with its readings, and can be moved on.
func TestMoveSession(t *testing.T) {
	ctx := t.Context()
	b, from, ses := filled(t)
	to := addClock(t, b, "Landing clock")
	for _, c := range []sessions.Clock{to, from, to} {
		if err := b.MoveSession(ctx, ses, c.ID, "going barrel"); err != nil {
			t.Fatal(err)
		}
		for _, each := range []sessions.Clock{from, to} {
			r, err := b.Record(ctx, each.ID)
			if err != nil {
				t.Fatal(err)
			}
			want := 0
			if each.ID == c.ID {
				want = 1
			}
			if len(r.Sessions) != want || len(r.Readings) != want {
				t.Errorf("moved to %s: %s has %d sessions and %d readings, want %d of each", c.Name, each.Name, len(r.Sessions), len(r.Readings), want)
			}
			if want == 1 && (r.Sessions[0].Part != "going barrel" || r.Readings[0].Part != "going barrel" || r.Readings[0].ClockID != c.ID) {
				t.Errorf("moved: %+v, %+v", r.Sessions[0], r.Readings[0])
			}
		}
	}
	if err := b.MoveSession(ctx, 9, to.ID, ""); kindOf(err) != KindUnknown {
		t.Errorf("a session that isn't there: %v", err)
	}
	if err := b.MoveSession(ctx, ses, 9, ""); kindOf(err) != KindUnknown {
		t.Errorf("to a clock that isn't there: %v", err)
	}
	sound(t, b)
}

// A session of the air takes its air with it, to another clock or out of every sum, and
// leaves alone what was recorded before, after and for others. One that was cut off ends
// where the next begins.
func TestAirGoesWithItsSession(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	from, to := addClock(t, b, "Hall clock"), addClock(t, b, "Landing clock")
	minute := func(n int) time.Time { return noon.Add(time.Duration(n) * time.Minute) }
	begin := func(clock int64, n int) int64 {
		t.Helper()
		id, err := b.StartSession(ctx, sessions.Session{ClockID: clock, Kind: sessions.SessionAir, Started: minute(n)})
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	warm := func(clock int64, minutes ...int) {
		t.Helper()
		for _, n := range minutes {
			if _, err := b.AddAir(ctx, sessions.Air{ClockID: clock, At: minute(n), TemperatureC: float64(n), HasTemperature: true}); err != nil {
				t.Fatal(err)
			}
		}
	}
	warm(from.ID, 0, 1)
	warm(to.ID, 12)
	ended := begin(from.ID, 10)
	warm(from.ID, 11, 12)
	if err := b.EndSession(ctx, ended, minute(13)); err != nil {
		t.Fatal(err)
	}
	warm(from.ID, 14)
	cut := begin(from.ID, 20)
	warm(from.ID, 21)
	begin(from.ID, 30)
	warm(from.ID, 31)
	stands := func(when, at, other string) {
		t.Helper()
		for c, want := range map[int64]string{from.ID: at, to.ID: other} {
			r, err := b.Record(ctx, c)
			if err != nil {
				t.Fatal(err)
			}
			var got []float64
			for _, a := range r.Air {
				got = append(got, a.TemperatureC)
			}
			if fmt.Sprint(got) != want {
				t.Errorf("%s, clock %d has %v, want %s", when, c, got, want)
			}
		}
	}
	stands("at first", "[0 1 11 12 14 21 31]", "[12]")
	move := func(id, clock int64, part string) func() error {
		return func() error { return b.MoveSession(ctx, id, clock, part) }
	}
	takeBack := func() error { return b.Withdraw(ctx, ThingSession, ended, "wrong room") }
	for _, step := range []struct {
		what      string
		do        func() error
		at, other string
	}{
		{"another part", move(cut, from.ID, "strike"), "[0 1 11 12 14 21 31]", "[12]"},
		{"moved", move(cut, to.ID, ""), "[0 1 11 12 14 31]", "[12 21]"},
		{"moved back", move(cut, from.ID, ""), "[0 1 11 12 14 21 31]", "[12]"},
		{"taken back", takeBack, "[0 1 14 21 31]", "[12]"},
		{"taken back twice", takeBack, "[0 1 14 21 31]", "[12]"},
	} {
		if err := step.do(); err != nil {
			t.Fatalf("%s: %v", step.what, err)
		}
		stands(step.what, step.at, step.other)
	}
	r, err := b.Record(ctx, from.ID)
	if err != nil || len(r.Withdrawn.Air) != 3 || r.Withdrawn.Air[0].Why != "session 1 was taken back" {
		t.Errorf("%v, taken back %+v", err, r.Withdrawn.Air)
	}
	sound(t, b)
}
