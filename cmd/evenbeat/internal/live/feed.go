package live

import (
	"context"
	"iter"
	"sync"
)

// subscriberQueue bounds the events that wait for one subscriber.
const subscriberQueue = 256

// feed hands a session's events to its subscribers. Nobody who publishes ever waits
// for one of them: a subscriber whose queue is full misses what comes then, and gets
// the state anew when it has read what was queued.
type feed struct {
	mu    sync.Mutex
	state State
	subs  map[*subscriber]struct{}
}

type subscriber struct {
	queue  []Event
	behind bool          // wants the state, once the queue is empty
	more   chan struct{} // holds one token if there may be something to take
}

// publish numbers an event, takes it into the state and hands it to all subscribers.
func (f *feed) publish(e Event) {
	f.mu.Lock()
	defer f.mu.Unlock()
	e.Seq = f.state.Seq + 1
	f.state.apply(&e)
	for s := range f.subs {
		if s.behind = s.behind || len(s.queue) == subscriberQueue; !s.behind {
			s.queue = append(s.queue, e)
		}
		s.wake()
	}
}

func (s *subscriber) wake() {
	select {
	case s.more <- struct{}{}:
	default:
	}
}

// State returns the state of the session.
func (f *feed) State() *State {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state.clone()
}

// Seq returns the number of the last event.
func (f *feed) Seq() int64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state.Seq
}

// Subscribe returns the events from now on, to be ranged over once, by one goroutine.
// The first is the state so far. Events come in order; after a gap in their numbers
// comes the state again. They end after Ended, or a state that is over, and when ctx
// does.
func (f *feed) Subscribe(ctx context.Context) iter.Seq[Event] {
	f.mu.Lock()
	defer f.mu.Unlock()
	s := &subscriber{queue: []Event{f.whole()}, more: make(chan struct{}, 1)}
	if f.subs == nil {
		f.subs = map[*subscriber]struct{}{}
	}
	f.subs[s] = struct{}{}
	return func(yield func(Event) bool) {
		defer f.leave(s)
		for {
			for e, ok := f.take(s); ok; e, ok = f.take(s) {
				if !yield(e) || e.Kind == Ended || e.State != nil && e.State.Over {
					return
				}
			}
			select {
			case <-s.more:
			case <-ctx.Done():
				return
			}
		}
	}
}

// whole returns the event that holds the whole state.
func (f *feed) whole() Event {
	e := Event{Seq: f.state.Seq, State: f.state.clone()}
	e.Kind, e.Next = Whole, f.state.Next
	return e
}

func (f *feed) leave(s *subscriber) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.subs, s)
}

// take returns the next event for a subscriber; false if there is none yet.
func (f *feed) take(s *subscriber) (e Event, ok bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	switch {
	case len(s.queue) > 0:
		e, s.queue = s.queue[0], s.queue[1:]
	case s.behind:
		s.behind, e = false, f.whole()
	default:
		return e, false
	}
	return e, true
}
