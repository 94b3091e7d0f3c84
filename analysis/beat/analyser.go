// Package beat finds how a clock goes from the times of its beats: which event is
// which beat, the rate and how sure it is, whether it beats evenly, and which
// wheel of the train carries an error.
//
// It is one pass over the events, in memory that doesn't grow with the run but
// for the logarithm; Result may be asked for at any time.
package beat

import (
	"fmt"
	"math"
	"slices"

	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Arbor is one arbor of the train, as far as its beats need it.
type Arbor struct {
	Index        int // from the barrel (1)
	Name         string
	BeatsPerTurn float64
}

// Options say what is known before the first beat.
type Options struct {
	// NominalInterval is the interval in seconds at which the clock would keep
	// time, 0 if not known: it is then guessed from the beats.
	NominalInterval float64
	Arbors          []Arbor // of the train, empty if not known
	BeatsPerTooth   int     // of the escape wheel; 0 = train.UsualBeatsPerTooth
	// CountRate is counts a second of the device's counter, nominal; 0 says that
	// the beats carry no count and the host's stamps tell the time.
	CountRate float64
	CountBits int // width of the counter; 0 lets the counts tell
	// Stamped says that the beats carry the host's stamps, against which the
	// device's count is held.
	Stamped bool
	Host    timebase.Host

	// Flag is the width of what the pendulum carries through a light gate at its
	// rest, and FlagDistance how far that is from the pivot, in metres; zero where
	// not known.
	Flag, FlagDistance quantity.Value

	// Event, if not nil, hears of every event that could be a beat, as it comes, and
	// Laid of every one that is, once that is sure: its number, and the time of
	// either in seconds since the first by the device's count.
	Event func(timeS float64)
	Laid  func(number int64, timeS float64)
	// Stretch, if not nil, hears of runs of neighbouring beats in order, in a goroutine
	// of its own while Beside lasts.
	Stretch func(Stretch)
}

// TooFewError says that there are too few beats for any figure.
type TooFewError struct {
	Events, Beats int64
}

func (e *TooFewError) Error() string {
	switch {
	case e.Events >= 3*leastEvents:
		return fmt.Sprintf("%d events hold no steady beat: check where the sensor sits and how loud it is set; at least %d beats in step are needed", e.Events, leastEvents)
	case e.Events >= leastEvents:
		return fmt.Sprintf("%d events hold too few beats in step: listen longer, ten minutes make a good figure", e.Events)
	}
	return fmt.Sprintf("%d %s too few: at least %d beats are needed, and ten minutes make a good figure", e.Events,
		plural(int(e.Events), "event is", "events are"), leastEvents)
}

// Analyser takes a run of beats and can tell at any time what they say so far. It
// is not for use by several goroutines at once.
type Analyser struct {
	o        Options
	counter  timebase.Counter
	fit      timebase.Line
	ref      timebase.Reference
	follow   follower
	grid     grid
	sums     *sums
	edges    edges
	ticks    []int64 // of the events being taken
	events   int64
	restarts int64
	closed   bool
	began    bool
	first    int64 // ticks of the first event, for those who hear of events
}

// NewAnalyser returns an Analyser. The error is a *quantity.InputError that names the
// option: an interval must be 0 or from 0.01 s to 100 s, a count rate 0 or from 10
// to 1e12 a second, a width 0 or from 8 to 64 bits, beats of a turn above 1.
func NewAnalyser(o Options) (*Analyser, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	a := &Analyser{o: o, sums: newSums(o.Arbors)}
	a.counter = timebase.Counter{Rate: o.CountRate, Bits: o.CountBits}
	sec := 1e-9
	if o.CountRate > 0 {
		sec = 1 / o.CountRate
	}
	a.grid = grid{cur: &stretch{}, open: a.sums.begin, laid: o.Laid, next: func(s *stretch) *stretch {
		a.sum(s)
		return s
	}}
	a.follow = follower{sec: sec, nominal: o.NominalInterval / sec, grid: &a.grid, strays: newStrays(escapePlaces(o.Arbors))}
	a.edges = edges{nominal: o.NominalInterval / sec}
	return a, nil
}

func (a *Analyser) sum(s *stretch) {
	a.sums.add(s)
	if a.o.Stretch != nil {
		a.o.Stretch(Stretch{Fresh: s.fresh, First: s.k, Late: s.x[:s.n], Apart: a.sums.apart})
	}
}

func (o Options) check() error {
	bad := func(name string, v float64, remedy string) error {
		return quantity.BadInput(name, v, remedy)
	}
	if v := o.NominalInterval; v != 0 && !(v >= 0.01 && v <= 100) {
		return bad("nominal interval", v, "must be between 0.01 s and 100 s, or 0 to be found")
	}
	if v := o.CountRate; v != 0 && !(v >= 10 && v <= 1e12) {
		return bad("count rate", v, "must be between 10 and 1e12 counts a second")
	}
	if v := o.CountBits; v != 0 && (v < 8 || v > 64) {
		return bad("count bits", float64(v), "must be between 8 and 64, or 0 to be found")
	}
	if !o.Stamped && o.CountRate == 0 {
		return bad("count rate", 0, "must be given for beats without the host's stamps, such as 1000000")
	}
	if err := o.checkFlag(); err != nil {
		return err
	}
	for _, a := range o.Arbors {
		if !(a.BeatsPerTurn > 1) || math.IsInf(a.BeatsPerTurn, 0) {
			return bad("beats of a turn of arbor "+fmt.Sprint(a.Index), a.BeatsPerTurn, "must be above 1")
		}
	}
	return nil
}

func (o Options) checkFlag() error {
	w, d := o.Flag, o.FlagDistance
	if w.V == 0 && d.V == 0 {
		return nil
	}
	if !(w.V > 0 && w.U >= 0 && w.Finite()) {
		return quantity.BadInput("width of the flag", fmt.Sprintf("%g m", w.V), "must be a positive length; give it and the flag's distance from the pivot, or neither")
	}
	if !(d.V > w.V && d.V <= 100 && d.U >= 0 && d.Finite()) {
		return quantity.BadInput("distance of the flag", fmt.Sprintf("%g m", d.V), fmt.Sprintf("must be more than the flag's width, %g m, and no more than 100 m from the pivot", w.V))
	}
	return nil
}

// Add takes the next beats, in the order in which they came.
func (a *Analyser) Add(beats []sessions.Beat) {
	switch {
	case a.o.CountRate == 0:
		for i := range beats {
			a.take(beats[i].HostMono, beats[i].Edge)
		}
	case !a.o.Stamped:
		for i := range beats {
			a.AddCount(beats[i].Count, beats[i].Edge, beats[i].Break)
		}
	default:
		for part := range slices.Chunk(beats, stampedAtOnce) {
			a.addStamped(part)
		}
	}
}

// stampedAtOnce beats go through join, fit and numbering together: few enough to
// stay near the core that works on them.
const stampedAtOnce = 512

// addStamped takes beats with count and stamps.
func (a *Analyser) addStamped(beats []sessions.Beat) {
	if cap(a.ticks) < len(beats) {
		a.ticks = make([]int64, len(beats))
	}
	ticks, from := a.ticks[:len(beats)], 0
	take := func(to int) {
		a.takeAll(ticks[from:to], func(i int) int16 { return beats[from+i].Edge })
		from = to
	}
	for i := 0; i < len(beats); i++ {
		n := a.counter.Run(beats[i:], ticks[i:])
		a.fit.AddRun(beats[i:i+n], ticks[i:], a.follow.sec)
		if i += n; i == len(beats) {
			break
		}
		b := &beats[i]
		t, j := a.counter.Next(b.Count, b.HostMono, b.HostUTC, b.Break)
		a.fit.Add(float64(t)*a.follow.sec, b.HostMono, b.HostUTC, j != timebase.Joined)
		if j == timebase.CountBroken {
			take(i)
			a.cut()
		}
		ticks[i] = t
	}
	take(len(beats))
}

// AddReferences takes what a time reference told meanwhile, in the order in which it
// came. It may be ahead of the beats or behind them.
func (a *Analyser) AddReferences(told []sessions.Reference) {
	for _, r := range told {
		a.ref.Add(r.HostMono, r.HostUTC, r.Nanos, r.ByPulse)
	}
}

// AddCounts takes the next events by their counts alone. edges is as long as
// counts.
func (a *Analyser) AddCounts(counts []uint64, edges []int16) {
	if cap(a.ticks) < len(counts) {
		a.ticks = make([]int64, len(counts))
	}
	for len(counts) > 0 {
		n := a.counter.Rising(counts, a.ticks[:len(counts)])
		a.takeAll(a.ticks[:n], func(i int) int16 { return edges[i] })
		if counts, edges = counts[n:], edges[n:]; len(counts) > 0 {
			a.AddCount(counts[0], edges[0], false)
			counts, edges = counts[1:], edges[1:]
		}
	}
}

// takeAll takes events whose ticks go on from the last.
func (a *Analyser) takeAll(ticks []int64, edge func(i int) int16) {
	if a.edges.decided && !a.edges.one && a.o.Event == nil {
		a.events += int64(len(ticks))
		a.follow.addAll(ticks)
		return
	}
	for i, t := range ticks {
		a.take(t, edge(i))
	}
}

// AddCount takes the next event by its count alone.
func (a *Analyser) AddCount(count uint64, edge int16, broken bool) {
	ticks, j := a.counter.NextBare(count, int64(a.follow.interval/2))
	if broken || j == timebase.CountBroken {
		a.cut()
	}
	a.take(ticks, edge)
}

func (a *Analyser) cut() {
	if a.events == 0 {
		return
	}
	a.restarts++
	a.edges.settle(a.heard)
	a.edges.passes.open = false
	a.follow.cut()
}

func (a *Analyser) take(ticks int64, edge int16) {
	a.events++
	if a.edges.decided {
		if a.edges.use(ticks, edge) {
			a.heard(ticks)
		}
		return
	}
	a.edges.add(ticks, edge, a.heard)
}

// heard takes an event that could be a beat.
func (a *Analyser) heard(ticks int64) {
	if a.o.Event != nil {
		if !a.began {
			a.began, a.first = true, ticks
		}
		a.o.Event(float64(ticks-a.first) * a.follow.sec)
	}
	a.follow.add(ticks)
}

// Close says that no more beats will come: what was held back until the next is
// numbered. Result may be called before or after.
func (a *Analyser) Close() {
	if a.closed {
		return
	}
	a.closed = true
	a.edges.settle(a.heard)
	a.follow.settle()
	a.grid.flush()
}

// Result returns what the beats so far say. The error is a *TooFewError. It may
// be called again as beats are added; a beat that waits for the next to settle
// which of two events it was is not in it.
func (a *Analyser) Result() (Result, error) {
	if !a.closed && !a.follow.known {
		return a.early()
	}
	a.grid.flush()
	return a.result()
}

// early looks at a run too short for a lasting hold on the beat, on a copy.
func (a *Analyser) early() (Result, error) {
	c, err := NewAnalyser(a.o)
	if err != nil {
		return Result{}, err
	}
	c.events, c.restarts = a.events, a.restarts
	c.fit, c.ref = *a.fit.Clone(), *a.ref.Clone()
	c.follow.waiting = slices.Clone(a.follow.waiting)
	c.follow.loose = a.follow.loose
	c.edges.held = slices.Clone(a.edges.held)
	c.edges.passes = a.edges.passes
	c.edges.passes.first = slices.Clone(a.edges.passes.first)
	c.edges.passes.blocks = slices.Clone(a.edges.passes.blocks)
	c.edges.decided, c.edges.one, c.edges.edge = a.edges.decided, a.edges.one, a.edges.edge
	c.Close()
	return c.result()
}
