package going

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// threaded is turned with a thread whose turn brings 30 s/day: by hand, with a light rod,
// 86400 · 0.69e-3 / (2 · 0.994) = 29.99, and the middle of all rods is 0.925 of it.
func threaded(events ...sessions.Event) In {
	in := turned()
	in.NutPitch, in.Length = 0.69e-3, quantity.Value{V: 0.994}
	in.Events = append(in.Events, events...)
	return in
}

func event(d float64, kind string) sessions.Event { return sessions.Event{At: day(d), Kind: kind} }

func turns(d, n float64) sessions.Event {
	return sessions.Event{At: day(d), Kind: sessions.EventAdjusted, Turns: n, HasTurns: true}
}

// adviceOf returns the advice of a record, of which there are n.
func adviceOf(t *testing.T, in In, n int) []Advice {
	t.Helper()
	r := analyse(t, in)
	if len(r.Advice) != n {
		t.Fatalf("%d advices, want %d: %+v", len(r.Advice), n, r.Advice)
	}
	return r.Advice
}

// TestOutcome: half a turn down was to bring 0.925 · 29.99 / 2 = −13.87 by the thread, and
// brought 5 − 20 = −15 s/day. What is left to turn comes last.
func TestOutcome(t *testing.T) {
	r := analyse(t, threaded())
	if len(r.Advice) != 2 {
		t.Fatalf("advice %+v", r.Advice)
	}
	a, now := r.Advice[0], r.Advice[1]
	if a.Do != "turn the nut 0.5 turns to make it lose (bob down)" || !a.Made.Equal(day(4)) || !a.Done.Equal(day(4)) || a.Open {
		t.Errorf("done: %+v", a)
	}
	if a.Expected == nil || math.Abs(a.Expected.V+13.87) > 0.01 || !a.Expected.Covers(-15) || a.Expected.Covers(-16) {
		t.Errorf("expected %+v, want -13.87", a.Expected)
	}
	if a.Came == nil || math.Abs(a.Came.V+15) > 0.05 || !(a.Came.U > 0.1 && a.Came.U < 0.4) {
		t.Errorf("came %+v, want -15", a.Came)
	}
	if r.Turned != a.Says || !strings.HasPrefix(a.Says, "Turning the nut down 0.5 turns on 6 Mar 2026 09:00 was to bring −13.9 ± ") || !strings.Contains(a.Says, "; it brought −15.0") {
		t.Errorf("said %q", a.Says)
	}
	if now.Came != nil || !now.Open || !now.Done.IsZero() || !now.Made.Equal(day(8)) || !strings.HasSuffix(now.Do, "to make it lose (bob down)") {
		t.Errorf("now: %+v", now)
	}
	if now.Expected == nil || math.Abs(now.Expected.V+5) > 0.01 {
		t.Errorf("now expected %+v, want -5", now.Expected)
	}
	if contains(r.Next, "Before the nut is turned again") {
		t.Errorf("next %q", r.Next)
	}
}

// TestExpectedIsByWhatWasKnown: what a turn did is learned from it, and not known before.
func TestExpectedIsByWhatWasKnown(t *testing.T) {
	in := turned() // without a thread
	if a := adviceOf(t, in, 2)[0]; a.Expected != nil || a.Came == nil || a.Open || !strings.Contains(a.Says, " 09:00 brought −15.0") {
		t.Errorf("nothing told what a turn does: %+v", a)
	}
	in.Events = append(in.Events, turns(8, -0.1))
	for d := 9; d <= 12; d++ {
		in.Checks = append(in.Checks, check(float64(d), 100+2*float64(d-8), 0.1))
	}
	a := adviceOf(t, in, 3)[1]
	// By hand: a turn brought −15 / −0.5 = 30 s/day, and a tenth of one down −3.
	if a.Expected == nil || math.Abs(a.Expected.V+3) > 0.01 || a.Came == nil || math.Abs(a.Came.V+3) > 0.05 || !a.Made.Equal(day(8)) {
		t.Errorf("the second turn: %+v", a)
	}
	// A bad outcome afterwards doesn't change what was expected.
	before := *a.Expected
	for i := range in.Checks {
		if d := in.Checks[i].At.Sub(begin).Hours() / 24; d > 8 {
			in.Checks[i].ErrorS += 9 * (d - 8)
		}
	}
	if again := adviceOf(t, in, 3)[1]; *again.Expected != before || again.Came.V < 5 {
		t.Errorf("expected %+v, was %+v, came %+v", again.Expected, before, again.Came)
	}
}

// TestOpenOutcome: until there is going enough since the turn, or as long as the change
// may be none as well as that expected, its outcome is open. Once something else is done it
// can't get better.
func TestOpenOutcome(t *testing.T) {
	a := adviceOf(t, threaded(turns(8, -0.17)), 2)[1]
	if a.Came != nil || !a.Open || a.Expected == nil || !strings.HasSuffix(a.Says, ": what it brought can't be told yet.") {
		t.Errorf("turned after the last check: %+v", a)
	}
	in := threaded(turns(8, -0.17))
	in.Checks = append(in.Checks, check(8.2, 101, 2))
	if a = adviceOf(t, in, 3)[1]; a.Came == nil || !a.Open || !strings.Contains(a.Says, "which doesn't tell yet") {
		t.Errorf("one rough check since: %+v", a)
	}
	in.Events = append(in.Events, event(8.2, sessions.EventMoved))
	in.Checks = append(in.Checks, check(9, 101, 4), check(10, 102, 4))
	if a = adviceOf(t, in, 3)[1]; a.Came == nil || a.Open || !strings.Contains(a.Says, "which doesn't tell.") {
		t.Errorf("moved since: %+v", a)
	}
	in = threaded()
	in.Checks = in.Checks[4:5]
	if a = adviceOf(t, in, 1)[0]; a.Came != nil || a.Open || a.Expected == nil {
		t.Errorf("one check is no rate before: %+v", a)
	}
	if len(analyse(t, In{Events: in.Events}).Advice) != 0 {
		t.Error("advice without a check")
	}
}

// TestDeedsBetweenTwoChecks: turns that no check parts are told as one, and nothing is told
// of turns beside something else that may have changed the rate. A stop doesn't.
func TestDeedsBetweenTwoChecks(t *testing.T) {
	in := threaded(turns(4.2, 0.2), turns(4.6, -0.1))
	a := adviceOf(t, in, 2)[0]
	if a.Do != "turn the nut 0.5 turns to make it lose (bob down), then turn the nut 0.2 turns to make it gain (bob up), then turn the nut 0.1 turns to make it lose (bob down), between the same two checks" {
		t.Errorf("do %q", a.Do)
	}
	// By hand: 0.4 turns down of 0.925 · 29.99; the last was on day 4.6.
	if a.Expected == nil || math.Abs(a.Expected.V+0.4*0.925*29.99) > 0.01 || a.Came == nil || !a.Done.Equal(day(4.6)) || !a.Made.Equal(day(4)) || !strings.Contains(a.Says, "0.4 turns in all") {
		t.Errorf("three turns: %+v", a)
	}
	a = adviceOf(t, threaded(event(4.5, sessions.EventMoved)), 2)[0]
	if a.Expected == nil || a.Came != nil || a.Open || !strings.Contains(a.Do, "; the clock was moved between the same two checks") || !strings.Contains(a.Says, "can't be told, since the clock was moved") {
		t.Errorf("moved too: %+v", a)
	}
	a = adviceOf(t, threaded(event(4.01, sessions.EventStopped), event(4.02, sessions.EventStarted)), 2)[0]
	if a.Came == nil || math.Abs(a.Came.V+15) > 1 {
		t.Errorf("stopped for it: %+v", a)
	}
	unknown := sessions.Event{At: day(4.5), Kind: sessions.EventAdjusted}
	a = adviceOf(t, threaded(unknown), 2)[0]
	if a.Expected != nil || a.Came == nil || a.Open || !strings.Contains(a.Do, "then adjust it by turns not noted") || !strings.HasPrefix(a.Says, "Adjusting it by turns not noted in all") {
		t.Errorf("turns not noted: %+v", a)
	}
	if all := adviceOf(t, threaded(turns(1, 0.1)), 3); all[0].Came == nil || all[1].Came == nil || !all[1].Made.Equal(day(4)) {
		t.Errorf("checks between: %+v", all)
	}
}

// TestOutcomeBeyondTheExpected: what came is said to be less, more, the other way or
// nothing, and what to look at comes before the next turn. The clock gained 20 s/day, and
// half a turn down was to bring −13.9.
func TestOutcomeBeyondTheExpected(t *testing.T) {
	for _, c := range []struct {
		since        float64
		verdict, see string
	}{
		{20, ", as if the bob had not moved.", "a bob that sticks on its rod"},
		{14, ", less than expected.", "whether the bob follows it"},
		{-4, ", more than expected.", "see whether pitch and turns are noted right"},
		{32, ", the other way.", "the right sign"},
	} {
		in := threaded()
		for i := range in.Checks {
			in.Checks[i].ErrorS = 20*float64(min(i, 4)) + c.since*float64(max(0, i-4))
		}
		r := analyse(t, in)
		if !strings.HasSuffix(r.Turned, c.verdict) || !contains(r.Reasons, r.Turned) || !strings.HasPrefix(r.Next[0], "Before the nut is turned again, see whether") || !strings.Contains(r.Next[0], c.see) {
			t.Errorf("%+v: %q, next %q", c, r.Turned, r.Next)
		}
	}
}

// TestAdviceToLeaveTheNut: it says so, and expects nothing.
func TestAdviceToLeaveTheNut(t *testing.T) {
	in := In{NutPitch: 1e-3, Length: quantity.Value{V: 0.994}, Zone: time.FixedZone("CET", 3600)}
	for d := range 8 {
		in.Checks = append(in.Checks, check(float64(d), 0.1*float64(d%2), 0.1))
	}
	a := adviceOf(t, in, 1)[0]
	if a.Do != "leave the nut" || a.Expected != nil || !a.Open || fmt.Sprint(a.Made) != "2026-03-09 10:00:00 +0100 CET" {
		t.Errorf("advice %+v", a)
	}
}

// What one turn brought, and what a turn does by the record, are one figure.
func TestOneTurnToldOnce(t *testing.T) {
	m := made{days: 21, every: 1, rate: 15, phase: 0.3, wander: 0.05, nut: []turn{{8, -0.5}}, perTurn: 30, u: 0.3}
	for seed := range uint64(5) {
		r := analyse(t, m.clock(seed).in)
		if r.Nut == nil || r.Nut.Source != fromRecord || r.Advice[0].Came == nil {
			t.Fatalf("seed %d: no effect of a turn by the record: %+v", seed, r)
		}
		came, did := *r.Advice[0].Came, r.Nut.PerTurn.Scale(-0.5)
		if math.Abs(came.V-did.V) > 1e-4*came.Half95() || math.Abs(came.Half95()/did.Half95()-1) > 1e-4 {
			t.Errorf("seed %d: the turn brought %v, and half a turn does %v", seed, came.Signed("s/day"), did.Signed("s/day"))
		}
	}
}
