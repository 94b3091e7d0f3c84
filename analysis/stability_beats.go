package analysis

import (
	"fmt"
	"math"
	"math/bits"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/stability"
	"evenbeat/analysis/timebase"
	"evenbeat/sessions"
)

// steady lays an Analyser's beats out for a Family: as phases against an even clock,
// segment by segment, tick and tock side by side.
type steady struct {
	a       *beat.Analyser
	counter timebase.Counter // joins as the Analyser's does, to see where it can't
	counted bool             // there are counts to join
	ticks   []int64          // what is joined; of no use here
	family  *stability.Family

	interval float64 // seconds a beat, of the even clock; 0 until the first beats tell
	apart    float64 // by which even beats are late at first, and odd ones early, seconds
	sided    bool    // apart is known

	heard  []laid // of a segment's beginning, until its side is told
	begun  bool   // the segment's beginning is through
	flip   int64  // 1 where the segment's odd beats are on the side of the first one's even ones
	next   int64  // number of the next beat to lay
	last   laid
	broken bool   // the next beat begins a segment
	hits   uint16 // which of the last sixteen beats were heard

	run        *run
	full, free chan *run
}

// laid is a beat with its number, and its time by the count.
type laid struct {
	number int64
	t      float64
}

// run is neighbouring phases on their way to the Family.
type run struct {
	fresh bool  // they begin a segment
	first int64 // number of its first beat
	x     []float64
}

const (
	// sideBeats at a segment's beginning tell tick from tock.
	sideBeats = 1024
	// A segment ends where the Analyser loses the beat: eight in a row unheard, or
	// fewer than six of sixteen. It doesn't tell where; so the same is looked for
	// here, and what is doubtful is taken for a loss, which costs some terms at most.
	lostBeats  = 7.5
	leastHeard = 6
	// renumbered beats: by so much may times and numbers of neighbours disagree.
	renumbered = 0.75

	runBeats = 1024
	runs     = 16 // on their way: enough that neither side waits for the other
)

func newSteady(opt beat.Options, taus stability.Taus) (*steady, error) {
	f, err := stability.NewFamily(taus)
	if err != nil {
		return nil, err
	}
	s := &steady{family: f, counted: opt.CountRate > 0, counter: timebase.Counter{Rate: opt.CountRate, Bits: opt.CountBits}, broken: true}
	opt.Laid = s.laid
	s.a, err = beat.NewAnalyser(opt)
	return s, err
}

// table calls add, which adds all beats, and returns the table. The Family is filled
// beside it, on another core where there is one; that has ended when table returns.
func (s *steady) table(add func() error) (stability.Result, error) {
	s.full, s.free = make(chan *run, runs), make(chan *run, runs)
	for range runs {
		s.free <- &run{x: make([]float64, 0, runBeats)}
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		for r := range s.full {
			if r.fresh {
				s.family.Segment(r.first)
			}
			s.family.Add(r.x)
			s.free <- r
		}
	}()
	s.run = <-s.free
	err := add()
	if err == nil {
		s.a.Close()
		s.segment()
		s.hand(false, 0)
	}
	close(s.full)
	<-done
	if err != nil {
		return stability.Result{}, err
	}
	return s.result()
}

func (s *steady) result() (stability.Result, error) {
	f, err := s.a.Result()
	if err != nil {
		return stability.Result{}, err
	}
	truth := 1 / (1 + f.TimeBase.OffsetPPM.V*1e-6) // true seconds in one of the count
	even := f.TickTock.V / (-4 * truth)            // by which even beats are late, by the count
	r, err := s.family.Result(f.IntervalS/truth, even-s.apart)
	if err != nil {
		return r, err
	}
	for i := range r.Rows {
		row := &r.Rows[i]
		row.TauS *= truth
		if row.TDev != nil {
			*row.TDev *= truth
		}
	}
	r.Warnings = append(r.Warnings, fmt.Sprintf("tick less tock, %s, is taken out of all figures; it would show at odd multiples of the beat", f.TickTock.Scale(1e3).Signed("ms")))
	if f.Segments > 1 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%d unbroken stretches: no term reaches from one into the next", f.Segments))
	}
	return r, nil
}

// add takes a session's next beats. A count that can't be joined ends the segment.
func (s *steady) add(beats []sessions.Beat) {
	if !s.counted {
		s.a.Add(beats)
		return
	}
	if len(s.ticks) < len(beats) {
		s.ticks = make([]int64, len(beats))
	}
	from := 0
	for i := 0; i < len(beats); i++ {
		if i += s.counter.Run(beats[i:], s.ticks); i == len(beats) {
			break
		}
		b := &beats[i]
		if _, j := s.counter.Next(b.Count, b.HostMono, b.HostUTC, b.Break); j == timebase.CountBroken {
			s.a.Add(beats[from : i+1])
			from = i + 1
			s.cut()
		}
	}
	s.a.Add(beats[from:])
}

// addCounts is add for a file's counts and edges.
func (s *steady) addCounts(counts []uint64, edges []int16) {
	if len(s.ticks) < len(counts) {
		s.ticks = make([]int64, len(counts))
	}
	for from := 0; from < len(counts); {
		to, broken := from+s.counter.Rising(counts[from:], s.ticks), false
		if to < len(counts) {
			_, j := s.counter.NextBare(counts[to], int64(s.interval*s.counter.Rate/2))
			broken = j == timebase.CountBroken
			to++
		}
		s.a.AddCounts(counts[from:to], edges[from:to])
		if from = to; broken {
			s.cut()
		}
	}
}

// cut ends the segment before the last event added. Asked for its result, the
// Analyser tells of every beat before the break; that event still waits for a hold.
func (s *steady) cut() {
	_, _ = s.a.Result() // too few beats so far is no fault
	s.broken = true
}

// laid takes the next beat: see beat.Options.Laid.
func (s *steady) laid(number int64, t float64) {
	b := laid{number, t}
	if s.broken || s.lost(b) {
		s.segment()
		s.hits = math.MaxUint16
	} else {
		s.hits = s.hits<<uint(number-s.last.number) | 1
	}
	s.broken = bits.OnesCount16(s.hits) < leastHeard
	s.last = b
	if s.begun {
		s.lay(b)
	} else if s.heard = append(s.heard, b); len(s.heard) == sideBeats {
		s.begin()
	}
}

// lost reports whether the Analyser lost the beat between the last one and b. Over a
// loss its numbers go on by the time that passed, whatever the clock had gained.
func (s *steady) lost(b laid) bool {
	step, took := b.number-s.last.number, b.t-s.last.t
	if s.interval == 0 {
		return step < 1 || float64(step) > lostBeats
	}
	return step < 1 || took > lostBeats*s.interval || math.Abs(took-float64(step)*s.interval) > renumbered*s.interval
}

// segment ends the segment; the next beat begins another.
func (s *steady) segment() {
	if !s.begun {
		s.begin()
	}
	s.begun, s.heard = false, s.heard[:0]
}

// begin lays what was heard of a segment's beginning, now that it tells how long a
// beat is and how far tick and tock lie apart, and which is which: over a break the
// beats' numbers don't.
func (s *steady) begin() {
	s.begun = true
	if len(s.heard) == 0 {
		return
	}
	first := s.heard[0]
	if s.interval == 0 {
		last := s.heard[len(s.heard)-1]
		if last.number == first.number {
			return // a single beat: nothing to lay
		}
		s.interval = (last.t - first.t) / float64(last.number-first.number)
	}
	s.flip = 0
	switch apart, ok := side(s.heard); {
	case !ok:
	case !s.sided:
		s.apart, s.sided = apart, true
	case apart*s.apart < 0:
		s.flip = 1
	}
	s.next = first.number
	s.hand(true, first.number+s.flip)
	for _, b := range s.heard {
		s.lay(b)
	}
}

// side returns by how much beats of even number are late, and those of odd number
// early: half the mean of what each, with its sign, is late against its neighbours. It
// reports false where no three beats follow each other.
func side(heard []laid) (apart float64, ok bool) {
	n := 0.0
	for i := 2; i < len(heard); i++ {
		a, b, c := heard[i-2], heard[i-1], heard[i]
		if c.number-a.number != 2 {
			continue
		}
		late := b.t - (a.t+c.t)/2
		if b.number&1 != 0 {
			late = -late
		}
		apart += late / 2
		n++
	}
	return apart / max(1, n), n > 0
}

// lay lays one beat, and gaps for those that were missed before it.
func (s *steady) lay(b laid) {
	for ; s.next < b.number; s.next++ {
		s.put(math.NaN())
	}
	apart := s.apart
	if (b.number+s.flip)&1 != 0 {
		apart = -apart
	}
	s.put(b.t - float64(b.number)*s.interval - apart)
	s.next++
}

func (s *steady) put(phase float64) {
	if len(s.run.x) == cap(s.run.x) {
		s.hand(false, 0)
	}
	s.run.x = append(s.run.x, phase)
}

// hand hands the phases laid so far to the Family; fresh: what follows begins a
// segment at beat first.
func (s *steady) hand(fresh bool, first int64) {
	s.full <- s.run
	s.run = <-s.free
	s.run.fresh, s.run.first, s.run.x = fresh, first, s.run.x[:0]
}
