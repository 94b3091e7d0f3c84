package beat

import (
	"math"
	"slices"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/beat/phase"
	"evenbeat/analysis/beat/rate"
	"evenbeat/analysis/stability"
)

// plainTurn is the turn in beats where the escape wheel's is not known: that of
// a wheel of thirty teeth, and always a whole number of ticks and tocks.
const plainTurn = 60

// sums is all that is kept of the beats: it takes time errors in order, and its size
// grows only with the logarithm of the run's length.
type sums struct {
	series func(phase.Series, phase.EvenClock) // called for all beats, if not nil

	even      phase.EvenClock
	blocks    phase.Blocks
	turns     *phase.Turns
	windows   rate.Windows
	harmonics *periodic.Harmonics
	fold      *periodic.Fold     // nil where the escape wheel isn't known
	spectrum  *periodic.Spectrum // nil where the train is known
	trace     trace
	allan     allan
}

func newSums(o Options) *sums {
	s := &sums{series: o.Series, harmonics: periodic.NewHarmonics(o.Arbors)}
	turn := periodic.EscapeBeats(o.Arbors)
	if turn > 0 {
		s.fold = periodic.NewFold(turn)
	} else {
		turn = plainTurn
	}
	s.turns = phase.NewTurns(turn)
	if len(o.Arbors) == 0 {
		s.spectrum = &periodic.Spectrum{}
	}
	return s
}

// lay lays a stretch out as time errors. The first sets the even clock.
func (s *sums) lay(st *numbering.Stretch) phase.Series {
	if s.even.IntervalS == 0 {
		s.even = phase.EvenClock{IntervalS: st.IntervalS, OffsetS: st.OffsetS}
		s.allan.begin(st.IntervalS)
	}
	return s.even.Series(st)
}

// add takes the next stretch.
func (s *sums) add(st *numbering.Stretch) {
	x := s.lay(st)
	s.trace.add(x) // shows the late ones
	x.LeaveOut()
	if s.series != nil {
		s.series(x, s.even)
	}
	s.blocks.Add(x)
	if s.spectrum != nil {
		s.spectrum.Add(x)
	}
	s.harmonics.Add(x)
	if x.Fresh {
		s.windows.Begin(x.AfterS)
		if s.fold != nil {
			s.fold.Begin(x.Segment)
		}
	}
	s.turns.Add(x, s.turn)
	s.allan.add(x)
}

func (s *sums) turn(t phase.Turn) {
	s.windows.Add(t.First, t.Mean)
	if s.fold != nil {
		s.fold.Add(t)
	}
}

// allan tabulates the Allan deviation over all segments, joined with a gap between.
type allan struct {
	stream *stability.Stream
	last   float64
	shift  float64 // makes the time error run on over a break
}

func (a *allan) begin(interval float64) {
	// The interval was found from the events, so it is above 0 and finite; a
	// stream that refused it would only mean a table left out.
	if st, err := stability.NewStream(interval); err == nil {
		a.stream = st
	}
}

func (a *allan) add(s phase.Series) {
	if a.stream == nil {
		return
	}
	x := s.Errors
	if first := slices.IndexFunc(x, func(v float64) bool { return v == v }); s.Fresh && first >= 0 {
		a.stream.Add(math.NaN())
		a.shift = a.last - x[first]
	}
	a.stream.AddAll(x, a.shift)
	for i := len(x) - 1; i >= 0; i-- {
		if x[i] == x[i] {
			a.last = x[i] + a.shift
			break
		}
	}
}

// table returns the deviations, with the difference of tick and tock taken out of the
// first row: an offset of half makes second differences of ±4·half from one beat to the next,
// and none over an even number of beats. ref is the even clock's interval and counted
// the clock's by the count, seconds; truth is the true seconds in one of the count.
func (a *allan) table(half, ref, counted, truth float64) []Stability {
	if a.stream == nil {
		return nil
	}
	var out []Stability
	for i, row := range a.stream.Rows() {
		if row.OADev == nil {
			continue
		}
		dev, scale := *row.OADev, ref/counted
		if i == 0 {
			v := dev*dev - 8*half*half/(row.TauS*row.TauS)
			if !(v > 0) {
				continue
			}
			scale *= math.Sqrt(v) / dev
		}
		t := Stability{TauS: row.TauS * counted / ref * truth, ADev: dev * scale, N: row.N}
		if row.Low != nil && row.High != nil {
			t.Low, t.High = *row.Low*scale, *row.High*scale
		}
		out = append(out, t)
	}
	return out
}
