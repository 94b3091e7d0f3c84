package live

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// instruments are those of a session of measuring, from the search for each to its end.
type instruments struct {
	*Measuring
	known  chan known
	coming int             // how many are still to come from known
	failed int             // how many can't be heard
	names  map[string]bool // of those that are listened to
	stop   func()          // ends the session

	all    sync.WaitGroup
	mu     sync.Mutex
	alive  int // that are listened to, or may still be found
	broken []error
}

// known is an instrument that was searched for, without a source where it was not found.
type known struct {
	Input
	err error
}

// search searches for all of the session's instruments at once.
func (m *Measuring) search(ctx context.Context) *instruments {
	n := len(m.inputs)
	o := &instruments{Measuring: m, known: make(chan known, n), coming: n, alive: n, names: map[string]bool{}, stop: func() {}}
	for _, in := range m.inputs {
		if in.Search == nil {
			o.known <- known{Input: in}
			continue
		}
		go func() {
			in, err := m.found(ctx, in)
			o.known <- known{in, err}
		}()
	}
	return o
}

// next waits for the next instrument that is known, and tells of those that can't be
// heard. It returns an input without a source when there are no more.
func (o *instruments) next() Input {
	for o.coming > 0 {
		k := <-o.known
		o.coming--
		if k.Source != nil || o.state.Typed {
			return k.Input
		}
		switch {
		case k.err != nil && len(o.inputs) > 1:
			o.failed++
			o.warn("passed over: %v", k.err)
		case k.err != nil:
			o.failed++
		}
		if o.auto() { // whose ports nobody named
			k.err = nil
		}
		o.ended(k.err)
	}
	return Input{}
}

// first waits for the first instrument. The error tells why there is none.
func (o *instruments) first() (Input, error) {
	in := o.next()
	switch {
	case o.failed < len(o.inputs):
		return in, nil
	case o.auto():
		return in, &CallError{fmt.Errorf("--port auto: no instrument that measures lengths is heard at any of the %d ports: see above", len(o.inputs))}
	}
	return in, errors.Join(o.broken...)
}

// auto tells that the session listens to all ports there are.
func (o *instruments) auto() bool {
	s := o.inputs[0].Search
	return s != nil && s.o.Port == "auto" && len(o.inputs) > 1
}

// abandon closes the instruments of a session that doesn't begin, but the first.
func (o *instruments) abandon(ctx context.Context) {
	for in := o.next(); in.Source != nil; in = o.next() {
		o.closeUnread(ctx, in)
	}
}

// listen hands to the recorder what the instruments say: the first, which is the session's
// own, and the others once they are known.
func (o *instruments) listen(ctx context.Context, own Input, ses sessions.Session) {
	o.start(ctx, own, ses, nil)
	o.all.Go(func() {
		for n := 2; ; n++ {
			in := o.next()
			if in.Source == nil {
				return
			}
			name := in.Instrument.Profile.Name
			for i := 2; o.names[name]; i++ { // two of a kind have a zero each
				name = fmt.Sprintf("%s-%d", in.Instrument.Profile.Name, i)
			}
			ses.Port, ses.Profile = in.Port, name
			o.tell(Joined, Event{Session: ses})
			o.start(ctx, in, ses, &recorder.By{Instrument: name, Limit: in.Instrument.limit})
		}
	})
}

// start begins to listen to an instrument. Without by it is the session's own.
func (o *instruments) start(ctx context.Context, in Input, ses sessions.Session, by *recorder.By) {
	suffix := ""
	if o.names[ses.Profile] = true; by != nil {
		suffix = fmt.Sprintf("-%d", len(o.names))
	}
	src := o.keepRaw(in.Source, ses, suffix)
	o.all.Go(func() {
		err := Listen(ctx, src, in.Instrument.Decoder, func(said []devices.Said) error {
			for _, s := range o.heard(said) {
				if !recorder.Send(ctx, o.queue, recorder.Item{Said: s, By: by}) {
					return nil
				}
			}
			return nil
		})
		if left := o.ended(err); left > 0 && err != nil {
			o.warn("an instrument is no longer heard, the others are: %v", err)
		}
	})
}

// ended counts an instrument that is no longer heard, and returns how many still are. With
// the last of them the session ends.
func (o *instruments) ended(err error) int {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.alive--; err != nil {
		o.broken = append(o.broken, err)
	}
	if o.alive == 0 {
		o.stop()
	}
	return o.alive
}

// end waits until no instrument is listened to, and returns why any of them failed.
func (o *instruments) end() error {
	o.all.Wait()
	return errors.Join(o.broken...)
}
