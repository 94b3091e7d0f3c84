package live

import (
	"context"
	"fmt"
	"iter"
	"reflect"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// runs a session with one subscriber that reads all the while and one that reads
// nothing before the session has ended, and returns what each was told.
func runs(t *testing.T, run func(context.Context) error, subscribe func(context.Context) iter.Seq[Event]) (brisk, stalled []Event) {
	t.Helper()
	reads, stands := subscribe(t.Context()), subscribe(t.Context())
	read := make(chan []Event, 1)
	go func() { read <- slices.Collect(reads) }()
	if err := run(t.Context()); err != nil {
		t.Fatal(err)
	}
	return <-read, slices.Collect(stands)
}

// wantWhole checks that the brisk subscriber was told all, the stalled one the same
// as far as its queue went, and that both know the same in the end.
func wantWhole(t *testing.T, brisk, stalled []Event, state *State) {
	t.Helper()
	for i, e := range brisk {
		if e.Seq != int64(i) {
			t.Fatalf("event %d has number %d", i, e.Seq)
		}
	}
	if len(brisk) <= subscriberQueue {
		t.Fatalf("%d events: too few to overrun a queue of %d", len(brisk), subscriberQueue)
	}
	if n := len(stalled); n != subscriberQueue+1 {
		t.Fatalf("the stalled one was told %d times, want its queue of %d and the state", n, subscriberQueue)
	}
	if !reflect.DeepEqual(stalled[:subscriberQueue], brisk[:subscriberQueue]) {
		t.Error("the two were told different things")
	}
	folded := brisk[0].State
	for _, e := range brisk[1:] {
		folded.apply(&e)
	}
	last := stalled[subscriberQueue]
	if last.Kind != Whole || last.Seq != brisk[len(brisk)-1].Seq {
		t.Errorf("the stalled one was told %s %d last, want the state at %d", last.Kind, last.Seq, len(brisk)-1)
	}
	if !reflect.DeepEqual(last.State, folded) {
		t.Errorf("the stalled one knows  %+v,\nthe other one %+v", last.State, folded)
	}
	if !reflect.DeepEqual(state, folded) {
		t.Errorf("the session's state is %+v,\nits events amount to %+v", state, folded)
	}
}

// One subscriber stands still through a whole session of measuring: nothing is held
// up, nothing is missing in the book, and in the end it knows as much as the other.
func TestMeasuringWhileOneStalls(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		m := onBench(t).NewMeasuring(MeasuringOptions{Clock: sessions.Clock{Name: "Hall"}, Progress: plan.Start(bores(900)), Inputs: []Input{caliperAt(calipers(1000))}, Now: now})
		began := time.Now()
		brisk, stalled := runs(t, func(ctx context.Context) error { return m.Run(ctx, store) }, m.Subscribe)
		if took := time.Since(began); took != 999*time.Millisecond {
			t.Errorf("the session took %v, the instrument 999 ms", took)
		}
		// Of 999 lines 50 are garbage, in two rows, and 49 are doubtful; then the plan is through.
		if len(store.readings) != 949 || len(store.faults) != 2 || store.ended != 1 {
			t.Errorf("%d readings, %d rows of faults, ended %d times; want 949, 2, 1", len(store.readings), len(store.faults), store.ended)
		}
		wantWhole(t, brisk, stalled, m.State())
		for i, r := range m.State().Readings {
			if got := r.Reading; got.ID != int64(i+1) || got.Text != store.readings[i].Text {
				t.Fatalf("reading %d is %+v, in the book %+v", i+1, got, store.readings[i])
			}
		}
		if s := m.State(); s.Faults != 50 || s.Next.String() != "" || !s.Over || s.Zeroed() {
			t.Errorf("state %+v", s)
		}
	})
}

// The same for a session of timing, whose estimates come along.
func TestTimingWhileOneStalls(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		rec := timingOf(t, sensor(400))
		time.AfterFunc(400*time.Second+500*time.Millisecond, rec.Finish)
		brisk, stalled := runs(t, func(ctx context.Context) error { return rec.Run(ctx, store) }, rec.Subscribe)
		if len(store.beats) != 400 || store.ended != 1 {
			t.Errorf("%d beats, ended %d times; want 400, 1", len(store.beats), store.ended)
		}
		wantWhole(t, brisk, stalled, rec.State())
		if s := rec.State(); s.Beats != 400 || s.Estimate == nil || s.Estimate.Result.Beats != 400 {
			t.Errorf("state %+v", s)
		}
		estimates := 0
		for _, e := range brisk {
			if e.Kind == Estimated {
				estimates++
			}
		}
		if estimates < 390 {
			t.Errorf("%d estimates in 400 s, want one a second", estimates)
		}
	})
}

// Whoever comes late is told the state first, and then what goes on.
func TestLateSubscriber(t *testing.T) {
	var f feed
	f.publish(Event{Event: recorder.Event{Kind: recorder.Kept, Reading: sessions.Reading{ID: 1}}})
	late := f.Subscribe(t.Context())
	f.publish(Event{Event: recorder.Event{Kind: recorder.Undone, Undone: 1}})
	f.publish(Event{Event: recorder.Event{Kind: Ended}})
	var told []string
	for e := range late {
		told = append(told, fmt.Sprint(e.Seq, " ", e.Kind))
		if e.State != nil && (len(e.State.Readings) != 1 || e.State.Readings[0].Undone) {
			t.Errorf("state %+v, want the one reading as it was then", e.State)
		}
	}
	if want := []string{"1 state", "2 undone", "3 ended"}; !slices.Equal(told, want) {
		t.Errorf("told %q, want %q", told, want)
	}
	all := slices.Collect(f.Subscribe(t.Context()))
	if len(all) != 1 || !all[0].State.Over || !all[0].State.Readings[0].Undone {
		t.Errorf("after the end: told %+v, want the last state alone", all)
	}
}

// A subscriber that falls behind more than once is told the state each time, and
// goes on from it without a gap.
func TestFallsBehindAgain(t *testing.T) {
	var f feed
	next, stop := iter.Pull(f.Subscribe(t.Context()))
	defer stop()
	n := 0
	fault := func(times int) {
		for range times {
			n++
			f.publish(Event{Event: recorder.Event{Kind: recorder.Faulty, Fault: sessions.Fault{ID: int64(n)}, Times: 1}})
		}
	}
	at := int64(0)
	for range 3 {
		fault(3 * subscriberQueue)
		for at < int64(n) {
			e, ok := next()
			switch {
			case !ok:
				t.Fatal("no more events")
			case e.Kind == Whole && e.State.Faults != e.Seq:
				t.Fatalf("the state at %d has %d faults", e.Seq, e.State.Faults)
			case e.Kind != Whole && e.Seq != at+1:
				t.Fatalf("event %d comes after %d", e.Seq, at)
			}
			at = e.Seq
		}
		fault(2)
	}
}

// A subscriber that leaves is forgotten, and one whose context ends stops.
func TestSubscriberLeaves(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var f feed
		for range f.Subscribe(t.Context()) {
			break
		}
		ctx, stop := context.WithCancel(t.Context())
		left := make(chan int, 1)
		go func() { left <- len(slices.Collect(f.Subscribe(ctx))) }()
		synctest.Wait()
		stop()
		if n := <-left; n != 1 || len(f.subs) != 0 {
			t.Errorf("told %d times, %d subscribers left; want 1, 0", n, len(f.subs))
		}
	})
}
