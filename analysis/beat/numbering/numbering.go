// Package numbering gives the events of a sensor their beat numbers, or finds them
// spurious. Events go in as ticks of a counter. Stretches of numbered beats come out,
// each beat with its time.
//
// Of a sensor with several edges the ones that are beats are chosen (edges.go). The beat
// is first acquired from some hundred events (acquire.go), then tracked event by event
// (track.go), nearly always by the fast twin (track_fast.go). Memory doesn't grow with
// the run.
package numbering

import "slices"

// Options say what is known before the first event.
type Options struct {
	TickS     float64 // seconds a tick
	IntervalS float64 // nominal interval of the beat, seconds; 0 = not known
	// Places is how many beats one turn of the escape wheel takes; 0 = not known.
	Places int
	// Event, if not nil, is called for every event that could be a beat, and Beat for
	// every one that is, once that is sure; off says that it came too late or too early to
	// be summed. Numbers go on over segments by the beat's own interval, so that a stop is
	// a gap in them.
	Event func(ticks int64)
	Beat  func(number, ticks int64, off bool)
	// Next takes a full stretch and gives another to fill.
	Next func(*Stretch) *Stretch
}

// Numberer numbers the events of one run. It is not for use by several goroutines at
// once.
type Numberer struct {
	o     Options
	edges edgeFilter
	track tracker
}

// New returns a Numberer.
func New(o Options) *Numberer {
	nominal := o.IntervalS / o.TickS
	return &Numberer{
		o:     o,
		edges: edgeFilter{nominal: nominal},
		track: tracker{tickS: o.TickS, nominal: nominal, beat: o.Beat, outliers: newOutliers(o.Places), out: layout{cur: &Stretch{}, next: o.Next}},
	}
}

// Add takes the next event.
func (n *Numberer) Add(ticks int64, edge int16) {
	n.track.Events++
	if !n.edges.decided {
		n.edges.add(ticks, edge, n.heard)
		return
	}
	if n.edges.use(ticks, edge) {
		n.heard(ticks)
	}
}

// AddAll takes the next events; edge gives the edge of each.
func (n *Numberer) AddAll(ticks []int64, edge func(i int) int16) {
	if n.edges.decided && !n.edges.one && n.o.Event == nil && n.o.Beat == nil {
		n.track.Events += int64(len(ticks))
		n.track.addAll(ticks)
		return
	}
	for i, t := range ticks {
		n.Add(t, edge(i))
	}
}

// heard takes an event that could be a beat.
func (n *Numberer) heard(ticks int64) {
	if n.o.Event != nil {
		n.o.Event(ticks)
	}
	n.track.add(ticks)
}

// Break ends the segment: the ticks of the next event don't go on from the last one.
func (n *Numberer) Break() {
	if n.track.Events == 0 {
		return
	}
	n.track.Breaks++
	n.edges.settle(n.heard)
	n.edges.blocking.open = false
	n.track.cut()
}

// Close ends the run: it numbers the event that waits for the next one, and hands on the
// last stretch.
func (n *Numberer) Close() {
	n.edges.settle(n.heard)
	n.track.settle()
	n.Flush()
}

// Flush hands on what is numbered so far.
func (n *Numberer) Flush() { n.track.out.flush() }

// Acquired reports whether the beat was ever acquired. Until then nothing is numbered.
func (n *Numberer) Acquired() bool { return n.track.acquired }

// Provisional returns a copy that hands its stretches to next. Closing it looks at a run
// too short for a lasting lock, and leaves n as it is. It is for before Acquired.
func (n *Numberer) Provisional(next func(*Stretch) *Stretch) *Numberer {
	c := *n
	c.o.Event, c.track.beat = nil, nil
	c.edges.held = slices.Clone(n.edges.held)
	c.edges.blocking.first = slices.Clone(n.edges.blocking.first)
	c.edges.blocking.blocks = slices.Clone(n.edges.blocking.blocks)
	c.track.unplaced = slices.Clone(n.track.unplaced)
	c.track.outliers = newOutliers(n.o.Places)
	c.track.out = layout{cur: &Stretch{}, next: next}
	c.track.vain = 0
	return &c
}

// IntervalTicks returns the interval of the beat as the tracking loop has it, in ticks;
// 0 before the beat is acquired.
func (n *Numberer) IntervalTicks() float64 { return n.track.loop.interval }

// Outliers returns the events that came too far off to be taken for a beat; nil where
// the escape wheel isn't known.
func (n *Numberer) Outliers() *Outliers { return n.track.outliers }

// Blocking returns how long the flag blocks the light at each pass; nil for a sensor
// that doesn't send two edges a beat.
func (n *Numberer) Blocking() *Blocking {
	if !n.edges.one {
		return nil
	}
	return &n.edges.blocking
}

// Tally is what was found of the events so far.
type Tally struct {
	Events, Beats, Missed, Spurious int64
	Late, Early                     int64   // of Beats, too late or too early to be summed
	Segments                        int64   // runs of beats within which numbers are sure
	Breaks                          int64   // of the count
	HeardS                          float64 // from first to last beat of each segment, summed
	SpanS                           float64 // from the run's first event to its last beat
	IntervalS                       float64 // as the tracking loop has it
	ScatterTicks                    float64 // standard deviation of a beat
}

// Tally returns the counts so far.
func (n *Numberer) Tally() Tally {
	t := n.track.settled()
	t.HeardS, t.SpanS = float64(n.track.span)*n.track.tickS, float64(n.track.last-n.track.first)*n.track.tickS
	t.IntervalS, t.ScatterTicks = n.track.loop.interval*n.track.tickS, n.track.loop.scatter
	return t
}
