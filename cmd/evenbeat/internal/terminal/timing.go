package terminal

import (
	"context"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/sessions/recorder"
)

// EstimateEvery is how far apart the estimates of a timing session should be that the
// terminal shows: 0, for none, where it can't draw them.
func (s Streams) EstimateEvery() time.Duration {
	if s.Plain || !Is(s.Err) {
		return 0
	}
	return time.Second
}

// Time runs a session of timing until it ends, and shows on a terminal how the rate
// becomes sure. Elsewhere it only tells of faults.
func (s Streams) Time(ctx context.Context, t *live.Timing, b live.BeatBook) error {
	// What the session tells after an interrupt is shown too, up to its end.
	events := t.Subscribe(context.WithoutCancel(ctx))
	ran := make(chan error, 1)
	go func() { ran <- t.Run(ctx, b) }()
	rate := liveRate{told: told{Streams: s}, nextMark: firstTrail}
	for e := range events {
		rate.event(e)
		s.supervised(e)
	}
	return <-ran
}

// supervised tells a supervisor that the session has begun, and each second that it goes
// on: the ticks come from the session itself, so they end when it does.
func (s Streams) supervised(e live.Event) {
	switch {
	case s.Notify == nil:
	case e.Kind == live.Started:
		s.Notify("READY=1")
	case e.Kind == live.Ticked:
		s.Notify("WATCHDOG=1")
	}
}

func (s *liveRate) event(e live.Event) {
	switch e.Kind {
	case live.Searching:
		s.searching(e.Search)
	case live.Started:
		if s.EstimateEvery() > 0 {
			s.Say("Listening to %s. Ctrl-C ends and sums up.\n", s.clock)
		}
	case live.Whole:
		s.clock = e.State.Clock
		s.catchUp(e.State)
		if e.State.Estimate != nil && s.EstimateEvery() > 0 {
			s.show(*e.State.Estimate)
		}
	case live.Estimated:
		s.show(*e.Estimate)
	case live.Ticked:
		s.tick(e)
	case live.Warning:
		s.warning(e.Warning)
		s.drawn = nil // below what stands
	case recorder.Faulty:
		s.Say("%s\n", s.fault(e))
		s.drawn = nil
	}
}
