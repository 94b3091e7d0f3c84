package live

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/recognise"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// ErrOver tells that a session takes no more commands: it has ended.
var ErrOver = errors.New("the session has ended")

// session is what measuring and timing have in common.
type session struct {
	feed
	bench    Bench
	input    Input
	now      func() devices.Stamp
	listened bool          // the input's source was run
	over     chan struct{} // closed when the session has ended

	finishing sync.Mutex
	finished  bool
	stop      context.CancelFunc // ends the waiting for the instrument; nil before Run
}

// tell publishes an event of a kind that changes nothing of what is asked for.
func (s *session) tell(kind recorder.Kind, e Event) {
	e.Kind = kind
	s.publish(e)
}

func (s *session) warn(format string, args ...any) {
	s.tell(Warning, Event{Warning: fmt.Sprintf(format, args...)})
}

// heard tells of what an instrument said, and returns a copy for the recorder: the
// batch itself is written over.
func (s *session) heard(said []devices.Said) []devices.Said {
	said = slices.Clone(said)
	s.tell(Heard, Event{Said: said})
	return said
}

// end tells that the session has ended, and closes a source that was never run.
func (s *session) end(ctx context.Context, last *Estimate, err error) {
	s.closeUnread(ctx, s.input)
	s.tell(Ended, Event{At: utc(s.now()), Err: err, Estimate: last})
	close(s.over)
}

func (s *session) closeUnread(ctx context.Context, in Input) {
	if in.Source == nil || s.listened {
		return
	}
	if err := in.Close(ctx); err != nil {
		s.bench.Log.Debug().Err(err).Str("port", in.Port).Msg("closing")
	}
}

// stoppable returns a context that ends with ctx or by a Finish, even an earlier one.
func (s *session) stoppable(ctx context.Context) (context.Context, context.CancelFunc) {
	ctx, stop := context.WithCancel(ctx)
	s.finishing.Lock()
	defer s.finishing.Unlock()
	if s.stop = stop; s.finished {
		stop()
	}
	return ctx, stop
}

func (s *session) finish() {
	s.finishing.Lock()
	defer s.finishing.Unlock()
	if s.finished = true; s.stop != nil {
		s.stop()
	}
}

// find waits for the session's own instrument to speak; false if ctx ended and nothing was
// heard. What it hears meanwhile is not lost.
func (s *session) find(ctx context.Context) (ok bool, err error) {
	in, err := s.found(ctx, s.input)
	if err == nil && in.Source != nil {
		s.input = in
		return true, nil
	}
	return false, err
}

// found returns an input with its instrument known, once that has spoken; one without a
// source if ctx ended first.
func (s *session) found(ctx context.Context, in Input) (Input, error) {
	if in.Search == nil {
		return in, nil
	}
	h, ins, err := in.Search.Find(ctx, func(step SearchStep) { s.tell(Searching, Event{Search: step}) },
		func(err error) { s.warn("passed over: %v", err) })
	if err != nil || h == nil {
		return Input{}, err
	}
	known := recognise.Finding{State: recognise.Found, Candidates: []recognise.Candidate{h.Candidate}}
	s.tell(Recognised, Event{Search: SearchStep{h.Port, h.Settings, known}})
	return Input{Instrument: ins, Port: h.Port, Source: h, Other: in.Search.other}, nil
}

// begun is the session as it begins now, of a clock.
func (s *session) begun(kind string, clock sessions.Clock) sessions.Session {
	return sessions.Session{ClockID: clock.ID, Kind: kind, Port: s.input.Port, Profile: s.input.Instrument.Profile.Name, Started: utc(s.now())}
}

func utc(s devices.Stamp) time.Time { return time.Unix(0, s.UTC).UTC() }
