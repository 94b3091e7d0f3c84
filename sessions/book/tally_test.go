package book

import (
	"testing"

	"evenbeat/sessions"
)

// What is added of a clock, or may change what is found of it, makes the newest another. What
// an instrument sends of another clock doesn't. A session that is moved is from then on of the
// clock that it was moved to.
func TestNewest(t *testing.T) {
	ctx := t.Context()
	b, c, ses := filled(t)
	other, err := b.AddClock(ctx, sessions.Clock{Name: "Landing"})
	if err != nil {
		t.Fatal(err)
	}
	elsewhere, err := b.StartSession(ctx, sessions.Session{ClockID: other.ID, Kind: sessions.SessionTime, Port: "p", Started: noon})
	if err != nil {
		t.Fatal(err)
	}
	reading := func(ses, clock int64) func() error {
		return func() error {
			_, err := b.AddReading(ctx, sessions.Reading{SessionID: ses, ClockID: clock, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Kept})
			return err
		}
	}
	fault := func(ses int64) func() error {
		return func() error {
			_, err := b.AddFault(ctx, sessions.Fault{SessionID: ses, At: noon, Kind: "garbage"})
			return err
		}
	}
	beats := func(ses int64) func() error {
		return func() error { return b.AppendBeats(ctx, ses, []sessions.Beat{{Count: 1, HostMono: 1, HostUTC: 1}}) }
	}
	move := func(ses, to int64) func() error {
		return func() error { return b.MoveSession(ctx, ses, to, "") }
	}
	for _, x := range []struct {
		name string
		add  func() error
		want bool
	}{
		{"a beat", beats(ses), true}, {"another beat", beats(ses), true}, {"a reading", reading(ses, c.ID), true}, {"a fault", fault(ses), true},
		{"a note", func() error {
			_, err := b.AddEvent(ctx, sessions.Event{ClockID: c.ID, At: noon, Kind: sessions.EventWound})
			return err
		}, true},
		{"taken back", func() error { return b.Withdraw(ctx, ThingCheck, 1, "") }, true},
		{"a beat of another", beats(elsewhere), false}, {"a reading of another", reading(elsewhere, other.ID), false}, {"a fault of another", fault(elsewhere), false},
		{"a session moved here", move(elsewhere, c.ID), true}, {"a beat of it", beats(elsewhere), true}, {"a reading of it", reading(elsewhere, other.ID), true}, {"a fault of it", fault(elsewhere), true},
		{"a session moved away", move(ses, other.ID), true}, {"a beat of that", beats(ses), false}, {"a fault of that", fault(ses), false},
		{"the session moved on", move(elsewhere, other.ID), true}, {"a beat of what was here", beats(elsewhere), false}, {"a reading of what was here", reading(elsewhere, other.ID), false},
	} {
		before, err := b.Newest(ctx, c.ID)
		if err != nil {
			t.Fatal(err)
		}
		if err := x.add(); err != nil {
			t.Fatal(x.name, err)
		}
		after, err := b.Newest(ctx, c.ID)
		if err != nil || (after != before) != x.want {
			t.Errorf("%s: from %s to %s, %v", x.name, before, after, err)
		}
	}
}
