package port

import "evenbeat/devices"

// waker waits in the system for a control line to change.
type waker interface {
	// Wait returns once a line has changed, or with an error once none will. While the
	// lines stand still it doesn't return, even if the port is closed: the system has
	// no way to end it.
	Wait() error
	// Lines returns which lines are on, and how often each has changed since the last
	// call, waited for or not.
	Lines() (on devices.Pins, moves moves, err error)
	Close() error
}

// moves counts the changes of each line, that of devices.Pins' lowest bit first.
type moves [4]int

// edge is a change that the system woke us for. It is sent twice: as soon as we are
// awake, with waking set, and once the lines have been read, which takes some adapters
// milliseconds.
type edge struct {
	at     devices.Stamp
	waking bool
	on     devices.Pins
	moves  moves
}

const (
	// edgesWaiting is how many edges may wait for the reader.
	edgesWaiting = 256
	// lookSeldom is the time between looks, in nanoseconds, once waiting has proved to
	// work: each look costs a transfer on some adapters.
	lookSeldom = int64(20e6)
)

// pinWatch finds the changes of control lines. Run looks at the lines each time it
// reads, about a thousand times a second. Where the system can wait for a change, a
// waiter beside it stamps the change as it wakes, and counts a line that came and went
// between two looks. Looks then become rare, for drivers that miss a change, but once
// one was missed they are as frequent as without a waiter.
type pinWatch struct {
	on     devices.Pins // as last delivered
	none   bool         // the port has no such lines
	edges  <-chan edge  // nil where the system can't wait
	held   *edge        // the next one, from after the bytes that are being dealt with
	waking bool         // a change is on its way from the waiter
	proven bool         // the waiter has found a change
	missed bool         // and has missed one

	// found is the state at the last look, at foundAt, if it holds a change that the
	// waiter hasn't sent yet. The waiter probably will, and has the better stamp.
	found   *devices.Pins
	foundAt devices.Stamp
	look    int64 // when it last looked
	// early counts changes that were delivered before the system counted them. looked
	// is when a change was last delivered from a look.
	early  moves
	looked int64
}

// watchPins reads the state from which control lines change, and begins to wait for
// changes. Always call stop, which ends the wait.
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

// wait sends each change until the waker fails, or until the first change after done
// is closed.
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

// deliverEdges delivers the changes that the waiter found, up to a time.
func (r *runner) deliverEdges(upTo int64) error {
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
		if err := r.deliverEdge(e); err != nil {
			return err
		}
	}
}

func (r *runner) deliverEdge(e edge) error {
	p := &r.pins
	changed, passed := e.on^p.on, devices.Pins(0)
	for i := range e.moves {
		line, shown := devices.Pins(1)<<i, 0
		if changed&line != 0 {
			shown = 1
		}
		n := e.moves[i] - p.early[i]
		if n > shown {
			passed |= line
		}
		if line != devices.PinRI { // some drivers count only the end of a ring
			p.early[i] = max(0, shown-n)
		}
	}
	if e.at.Mono <= p.looked {
		return nil // a look has delivered a newer state
	}
	p.proven = true
	// What came and went before we were awake makes two changes.
	if err := r.deliverPins(e.at, p.on^passed); err != nil {
		return err
	}
	return r.deliverPins(e.at, e.on)
}

// deliverPins delivers a change to the state on, if it is one. Bytes may have
// overtaken it on its way here, and chunks must come in order.
func (r *runner) deliverPins(at devices.Stamp, on devices.Pins) error {
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

// lookAtPins looks for a change that the waiter didn't find, and delivers it.
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
	if err := r.deliverEdges(at.Mono); err != nil || p.waking || p.held != nil {
		return err
	}
	if p.edges == nil {
		return r.deliverPins(at, on)
	}
	if p.found != nil {
		p.missed = p.proven
		if err := r.deliverFound(); err != nil {
			return err
		}
	}
	if on != p.on {
		p.found, p.foundAt = &on, at
	}
	return nil
}

// deliverFound delivers the change of the last look, which the waiter didn't find.
func (r *runner) deliverFound() error {
	p := &r.pins
	on := *p.found
	p.found, p.looked = nil, p.foundAt.Mono
	for i := range p.early {
		if (on^p.on)&(1<<i)&^devices.PinRI != 0 {
			p.early[i]++
		}
	}
	return r.deliverPins(p.foundAt, on)
}
