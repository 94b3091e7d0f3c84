package port

import "evenbeat/devices"

// waker waits in the system for a control line to change.
type waker interface {
	// Wait returns once a line has changed, or with an error once none will. Where
	// the lines stand still it doesn't return, whatever becomes of the port in this
	// program: the system offers nothing that ends it.
	Wait() error
	// Lines returns which lines are on, and how often each has changed since the last
	// call, whether or not anybody waited.
	Lines() (on devices.Pins, moves moves, err error)
	Close() error
}

// moves are numbers of changes, of the line of devices.Pins' lowest bit first.
type moves [4]int

// edge is what the system woke us for. It comes twice: as soon as we are awake,
// waking, and when the lines have been read, which takes some adaptors milliseconds.
type edge struct {
	at     devices.Stamp
	waking bool
	on     devices.Pins
	moves  moves
}

const (
	// edgesWaiting may wait for the reader.
	edgesWaiting = 256
	// lookSeldom is how long there is from look to look once the waiting has proved
	// itself: each costs a transfer on some adaptors.
	lookSeldom = int64(20e6)
)

// pinWatch tells the changes of control lines. They are looked at each time round,
// about a thousand times a second; where the system can be waited in for a change,
// that wait tells when it was, to the time it takes to wake, and which line came and
// went between two looks. Looking goes on beside it, seldom, for drivers that miss
// one; once one was missed, as often as without.
type pinWatch struct {
	on     devices.Pins // as told last
	none   bool         // the port has no such lines
	edges  <-chan edge  // nil where there is no waiting in the system
	held   *edge        // the next one, from after the bytes that are being dealt with
	waking bool         // a change is on its way from the waiter
	proven bool         // the waiter told of one
	missed bool         // and of one it didn't

	// found is the state at the last look, at the time foundAt, if there was a change
	// in it that no wait has told of yet; it is likely to be about to, and knows the
	// time better.
	found   *devices.Pins
	foundAt devices.Stamp
	look    int64 // when it was looked last
	// What was told and that the system has not yet counted is counted in told; looked
	// is when something was told from a look.
	told   moves
	looked int64
}

// watchPins reads the control lines' state, from which changes are told, and begins
// to wait for them. The function it returns ends the waiting, and must be called.
func (r *runner) watchPins() (stop func(), err error) {
	done := make(chan struct{})
	stop = func() { close(done) }
	r.pins = pinWatch{looked: -1}
	on, err := r.dev.Pins()
	if hasNoPins(err) {
		r.pins.none = true
		r.o.Log.Info().Msg("the port has no control lines to watch")
		return stop, nil
	}
	if err != nil {
		return stop, &lostError{err}
	}
	r.pins.on = on
	w, err := r.dev.Waker()
	if err != nil {
		r.o.Log.Debug().Err(err).Msg("control lines are looked at, not waited for")
		return stop, nil
	}
	edges := make(chan edge, edgesWaiting)
	r.pins.edges = edges
	go r.wait(w, edges, done)
	return stop, nil
}

// wait sends each change until the waker tells of no more, or done is closed and a
// last one came.
func (r *runner) wait(w waker, edges chan<- edge, done <-chan struct{}) {
	defer func() {
		close(edges)
		if err := w.Close(); err != nil {
			r.o.Log.Debug().Err(err).Msg("closing")
		}
	}()
	send := func(e edge) (more bool) {
		select {
		case <-done:
			return false
		default:
		}
		select {
		case edges <- e:
			return true
		case <-done:
			return false
		}
	}
	for {
		err := w.Wait()
		e := edge{at: r.o.Now(), waking: true}
		if err == nil {
			if !send(e) {
				return
			}
			e.waking = false
			e.on, e.moves, err = w.Lines()
		}
		if err != nil {
			r.o.Log.Debug().Err(err).Msg("control lines are no longer waited for")
			return
		}
		if !send(e) {
			return
		}
	}
}

// tellEdges delivers the changes that were waited for, up to a time.
func (r *runner) tellEdges(upTo int64) error {
	p := &r.pins
	for {
		if p.held == nil {
			select {
			case e, ok := <-p.edges:
				if !ok {
					p.edges, p.waking = nil, false
					return nil
				}
				if p.waking = e.waking; e.waking {
					continue
				}
				p.held = &e
			default:
				return nil
			}
		}
		e := *p.held
		if e.at.Mono > upTo {
			return nil
		}
		p.held, p.found = nil, nil
		if err := r.tellEdge(e); err != nil {
			return err
		}
	}
}

func (r *runner) tellEdge(e edge) error {
	p := &r.pins
	changed, passed := e.on^p.on, devices.Pins(0)
	for i := range e.moves {
		line, shown := devices.Pins(1)<<i, 0
		if changed&line != 0 {
			shown = 1
		}
		n := e.moves[i] - p.told[i]
		if n > shown {
			passed |= line
		}
		if line != devices.PinRI { // of which some drivers count the end alone
			p.told[i] = max(0, shown-n)
		}
	}
	if e.at.Mono <= p.looked {
		return nil // the look was at a newer state
	}
	p.proven = true
	// What came and went before we were awake is told as two changes.
	if err := r.tellPins(e.at, p.on^passed); err != nil {
		return err
	}
	return r.tellPins(e.at, e.on)
}

// tellPins delivers a change to the state on, if it is one. Bytes may have overtaken
// it on its way here, and chunks come in order.
func (r *runner) tellPins(at devices.Stamp, on devices.Pins) error {
	changed := on ^ r.pins.on
	if changed == 0 {
		return nil
	}
	if at.Mono < r.sent.Mono {
		at = r.sent
	}
	r.pins.on = on
	return r.send(devices.Chunk{At: at, Changed: changed, Pins: on})
}

// lookAtPins delivers a change that was not waited for.
func (r *runner) lookAtPins() error {
	p := &r.pins
	if !r.o.Pins || p.none || p.waking || p.held != nil {
		return nil
	}
	if p.proven && !p.missed && p.found == nil && r.o.Now().Mono-p.look < lookSeldom {
		return nil
	}
	on, err := r.dev.Pins()
	if err != nil {
		return &lostError{err}
	}
	at := r.o.Now()
	p.look = at.Mono
	if err := r.tellEdges(at.Mono); err != nil || p.waking || p.held != nil {
		return err
	}
	if p.edges == nil {
		return r.tellPins(at, on)
	}
	if p.found != nil {
		p.missed = p.proven
		if err := r.tellFound(); err != nil {
			return err
		}
	}
	if on != p.on {
		p.found, p.foundAt = &on, at
	}
	return nil
}

// tellFound delivers the change of the last look, which no wait told of.
func (r *runner) tellFound() error {
	p := &r.pins
	on := *p.found
	p.found, p.looked = nil, p.foundAt.Mono
	for i := range p.told {
		if (on^p.on)&(1<<i)&^devices.PinRI != 0 {
			p.told[i]++
		}
	}
	return r.tellPins(p.foundAt, on)
}
