// Package beat finds how a clock goes from the times of its beats: which event is
// which beat, the rate and how sure it is, whether it beats evenly, and which
// wheel of the train carries an error.
//
// It is one pass over the events, in memory that grows only with the logarithm of
// their number. Result may be asked for at any time. Events go through numbering,
// the numbered beats through phase, and what phase sums through rate and periodic.
// This package wires these stages and puts what they find into words.
package beat

import (
	"fmt"
	"slices"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/timebase"
	"evenbeat/sessions"
)

// TooFewError says that there are too few beats for any figure.
type TooFewError struct {
	Events int64
}

func (e *TooFewError) Error() string {
	switch {
	case e.Events >= 3*numbering.LeastEvents:
		return fmt.Sprintf("%d events hold no steady beat: check where the sensor sits and how loud it is set; at least %d beats in step are needed", e.Events, numbering.LeastEvents)
	case e.Events >= numbering.LeastEvents:
		return fmt.Sprintf("%d events hold too few beats in step: listen longer, ten minutes make a good figure", e.Events)
	}
	are := "events are"
	if e.Events == 1 {
		are = "event is"
	}
	return fmt.Sprintf("%d %s too few: at least %d beats are needed, and ten minutes make a good figure", e.Events, are, numbering.LeastEvents)
}

// Analyser takes a run of beats and can tell at any time what they say so far. It
// is not for use by several goroutines at once.
type Analyser struct {
	o       Options
	told    *timebase.SensorClock // nil for a sensor that doesn't tell its own time
	counter timebase.Counter
	fit     timebase.Line
	ref     timebase.Reference
	numbers *numbering.Numberer
	sums    *sums
	beside  func(*numbering.Stretch) *numbering.Stretch // sums in another goroutine, if not nil
	ticks   []int64                                     // of the events being taken
	closed  bool
}

// NewAnalyser returns an Analyser. The error is a *quantity.InputError that names the
// option: an interval must be 0 or from 0.01 s to 100 s, a count rate 0 or from 10
// to 1e12 a second, a width 0 or from 8 to 64 bits, beats of a turn above 1.
func NewAnalyser(o Options) (*Analyser, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	a := &Analyser{o: o, sums: newSums(o)}
	a.counter = timebase.Counter{Rate: o.CountRate, Bits: o.CountBits}
	if o.tellsTime() {
		a.told = &timebase.SensorClock{Rate: o.CountRate}
	}
	a.numbers = numbering.New(numbering.Options{
		TickS: o.tickS(), IntervalS: o.NominalInterval, Places: periodic.EscapeBeats(o.Arbors),
		Event: o.Event, Beat: o.Beat, Next: a.take,
	})
	return a, nil
}

// take has a stretch of beats summed and gives one to fill.
func (a *Analyser) take(s *numbering.Stretch) *numbering.Stretch {
	if a.beside != nil {
		return a.beside(s)
	}
	a.sums.add(s)
	return s
}

// Add takes the next beats, in the order in which they came.
func (a *Analyser) Add(beats []sessions.Beat) {
	switch {
	case a.o.CountRate == 0:
		for i := range beats {
			a.numbers.Add(beats[i].HostMono, beats[i].Edge)
		}
	case !a.o.Stamped:
		for i := range beats {
			a.AddCount(beats[i].Count, beats[i].Edge, beats[i].Break)
		}
	case a.told != nil:
		a.told.Take(beats, a.addAllStamped)
	default:
		a.addAllStamped(beats)
	}
}

// addAllStamped takes any number of beats with count and stamps.
func (a *Analyser) addAllStamped(beats []sessions.Beat) {
	for part := range slices.Chunk(beats, stampedAtOnce) {
		a.addStamped(part)
	}
}

// stampedAtOnce beats go through counter, fit and numbering together: few enough to
// stay in the core's cache.
const stampedAtOnce = 512

// addStamped takes beats with count and stamps.
func (a *Analyser) addStamped(beats []sessions.Beat) {
	ticks, from, tickS := a.room(len(beats)), 0, a.o.tickS()
	take := func(to int) {
		a.numbers.AddAll(ticks[from:to], func(i int) int16 { return beats[from+i].Edge })
		from = to
	}
	for i := 0; i < len(beats); i++ {
		n := a.counter.Run(beats[i:], ticks[i:])
		a.fit.AddRun(beats[i:i+n], ticks[i:], tickS)
		if i += n; i == len(beats) {
			break
		}
		b := &beats[i]
		t, j := a.counter.Next(b.Count, b.HostMono, b.HostUTC, b.Break)
		a.fit.Add(float64(t)*tickS, b.HostMono, b.HostUTC, j != timebase.Joined)
		if j == timebase.CountBroken {
			take(i)
			a.numbers.Break()
		}
		ticks[i] = t
	}
	take(len(beats))
}

// room returns room for the ticks of n events.
func (a *Analyser) room(n int) []int64 {
	if cap(a.ticks) < n {
		a.ticks = make([]int64, n)
	}
	return a.ticks[:n]
}

// AddReferences takes the times that a time reference sent, in the order in which they
// came. They may be ahead of the beats or behind them.
func (a *Analyser) AddReferences(sent []sessions.Reference) {
	for _, r := range sent {
		a.ref.Add(r.HostMono, r.HostUTC, r.Nanos, r.ByPulse)
	}
}

// AddCounts takes the next events by their counts alone. edges is as long as
// counts.
func (a *Analyser) AddCounts(counts []uint64, edges []int16) {
	ticks := a.room(len(counts))
	for len(counts) > 0 {
		n := a.counter.Rising(counts, ticks[:len(counts)])
		a.numbers.AddAll(ticks[:n], func(i int) int16 { return edges[i] })
		if counts, edges = counts[n:], edges[n:]; len(counts) > 0 {
			a.AddCount(counts[0], edges[0], false)
			counts, edges = counts[1:], edges[1:]
		}
	}
}

// AddCount takes the next event by its count alone.
func (a *Analyser) AddCount(count uint64, edge int16, broken bool) {
	ticks, j := a.counter.NextBare(count, int64(a.numbers.IntervalTicks()/2))
	if broken || j == timebase.CountBroken {
		a.numbers.Break()
	}
	a.numbers.Add(ticks, edge)
}

// Close ends the run: it numbers the event that waits for the next one. Result may be
// called before or after.
func (a *Analyser) Close() {
	if !a.closed {
		a.closed = true
		if a.told != nil {
			a.told.Close(a.addAllStamped)
		}
		a.numbers.Close()
	}
}

// Nominal returns the interval that the beat should have, in seconds; 0 if that isn't
// known.
func (a *Analyser) Nominal() float64 { return a.o.NominalInterval }

// Result returns what the beats so far say. The error is a *TooFewError. It may
// be called again as beats are added; a beat that waits for the next to settle
// which of two events it was is not in it.
func (a *Analyser) Result() (Result, error) {
	if !a.closed && !a.numbers.Acquired() {
		return a.early()
	}
	a.numbers.Flush()
	return a.result()
}

// early looks at a run too short for a lasting lock on the beat, on a copy.
func (a *Analyser) early() (Result, error) {
	c := Analyser{o: a.o, fit: *a.fit.Clone(), ref: *a.ref.Clone()}
	c.o.Series = nil
	c.sums = newSums(c.o)
	c.numbers = a.numbers.Provisional(c.take)
	if a.told != nil {
		c.counter, c.told = a.counter, a.told.Clone()
	}
	c.Close()
	return c.result()
}
