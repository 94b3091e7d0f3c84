package port

import (
	"errors"

	"evenbeat/devices"
)

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

// edge is what the system woke us for.
type edge struct {
	at    devices.Stamp
	on    devices.Pins
	moves moves
}

// edgesWaiting may wait for the reader.
const edgesWaiting = 256

// pinWatch tells the changes of control lines. They are looked at each time round,
// about a thousand times a second; where the system can be waited in for a change,
// that wait tells when it was, to the time it takes to wake, and which line came and
// went between two looks.
type pinWatch struct {
	on    devices.Pins // as told last
	none  bool         // the port has no such lines
	edges <-chan edge  // nil where there is no waiting in the system
	held  *edge        // the next one, from after the bytes that are being dealt with
	// doubt says that the last look found a change that no wait has told of; looked is
	// when one was told from a look after all. What was told and that the system has not
	// yet counted is counted in told.
	doubt  bool
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
	defer close(edges)
	for {
		err := w.Wait()
		e := edge{at: r.o.Now()}
		if err == nil {
			e.on, e.moves, err = w.Lines()
		}
		if err != nil {
			r.o.Log.Debug().Err(errors.Join(err, w.Close())).Msg("control lines are no longer waited for")
			return
		}
		select {
		case edges <- e:
			continue
		case <-done:
		}
		if err := w.Close(); err != nil {
			r.o.Log.Debug().Err(err).Msg("closing")
		}
		return
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
					p.edges = nil
					return nil
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
		p.held, p.doubt = nil, false
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
	if e.at.Mono < r.sent.Mono { // bytes overtook it on its way here, and chunks come in order
		e.at = r.sent
	}
	if passed != 0 { // came and went before we were awake
		err := r.send(devices.Chunk{At: e.at, Changed: passed, Pins: p.on ^ passed})
		if err != nil {
			return err
		}
		p.on ^= passed
	}
	if changed = e.on ^ p.on; changed == 0 {
		return nil
	}
	p.on = e.on
	return r.send(devices.Chunk{At: e.at, Changed: changed, Pins: e.on})
}

// lookAtPins delivers a change that was not waited for.
func (r *runner) lookAtPins() error {
	p := &r.pins
	if !r.o.Pins || p.none {
		return nil
	}
	on, err := r.dev.Pins()
	if err != nil {
		return &lostError{err}
	}
	at := r.o.Now()
	if err := r.tellEdges(at.Mono); err != nil {
		return err
	}
	changed := on ^ p.on
	if changed == 0 {
		p.doubt = false
		return nil
	}
	if p.edges != nil && !p.doubt {
		p.doubt = true // the wait is likely to be just about to tell it, with a better time
		return nil
	}
	p.on, p.doubt, p.looked = on, false, at.Mono
	for i := range p.told {
		if p.edges != nil && changed&(1<<i)&^devices.PinRI != 0 {
			p.told[i]++
		}
	}
	return r.send(devices.Chunk{At: at, Changed: changed, Pins: on})
}
