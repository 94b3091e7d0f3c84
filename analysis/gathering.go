package analysis

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// gathering takes the dimensions of one part out of a record.
type gathering struct {
	rec     sessions.Record
	o       SpringOptions
	finding sessions.Finding
	part    string
	notes   map[string]bool
	unsure  []string // of dimensions that measurements contradict
}

func (g *gathering) note(s string) {
	if g.notes == nil {
		g.notes = map[string]bool{}
	}
	g.notes[s] = true
}

// told returns what is unsure and the notes, each once, in a fixed order.
func (g *gathering) told() []string {
	slices.Sort(g.unsure)
	return append(slices.Clip(g.unsure), slices.Sorted(maps.Keys(g.notes))...)
}

// dimension returns what is known of one dimension: the value given, else what the
// record holds; nil for neither.
func (g *gathering) dimension(name string, given map[string]quantity.Number) (*uncertainty.Quantity, error) {
	if v, ok := given[name]; ok {
		return g.typed(name, v), nil
	}
	sets := g.sets(name)
	if len(sets) == 0 {
		return nil, nil
	}
	var agree []uncertainty.Quantity
	for i, readings := range sets {
		q, err := g.measured(name, readings)
		if err != nil {
			return nil, err
		}
		if i > 0 && !agree[0].Touches(q) {
			g.apart(name, sets[0], agree[0], readings, q)
			continue
		}
		agree = append(agree, q)
	}
	q := uncertainty.Combine(name, agree)
	return &q, nil
}

// measured returns what one set of readings says.
func (g *gathering) measured(name string, readings []sessions.Reading) (uncertainty.Quantity, error) {
	values := make([]float64, len(readings))
	for i, r := range readings {
		values[i] = r.Value
	}
	in := g.instrument(name, readings)
	q, err := uncertainty.FromReadings(name, values, in.Instrument)
	if err != nil {
		return q, err
	}
	if in.stated > 0 {
		q.Sources = append(q.Sources, uncertainty.Source{U: in.stated, Shape: in.shape, Cause: uncertainty.CauseStated})
	}
	g.spread(name, values, in.Limit)
	return q, nil
}

// sets returns the readings of a dimension that stand, a set for each session, instrument
// and way of measuring, the newest first. Where there are none it returns the newest set
// of doubtful ones.
func (g *gathering) sets(name string) [][]sessions.Reading {
	kept := g.inState(name, sessions.Kept)
	if len(kept) > 0 {
		return kept
	}
	doubtful := g.inState(name, sessions.Doubtful)
	if len(doubtful) == 0 {
		return nil
	}
	g.note(fmt.Sprintf("Of the %s there are only doubtful readings; they are used. Measure it again.", name))
	return doubtful[:1]
}

func (g *gathering) inState(name string, state sessions.State) (sets [][]sessions.Reading) {
	for _, r := range g.rec.Readings {
		if r.State != state || !g.is(r, name) {
			continue
		}
		i := slices.IndexFunc(sets, func(set []sessions.Reading) bool {
			return set[0].SessionID == r.SessionID && set[0].Instrument == r.Instrument && set[0].Kind == r.Kind
		})
		if i < 0 {
			i = len(sets)
			sets = append(sets, nil)
		}
		sets[i] = append(sets[i], r)
	}
	slices.SortStableFunc(sets, func(a, b []sessions.Reading) int { return newest(b).Compare(newest(a)) })
	return sets
}

// newest returns the time of the last reading of a set.
func newest(set []sessions.Reading) (at time.Time) {
	for _, r := range set {
		if r.At.After(at) {
			at = r.At
		}
	}
	return at
}

// apart tells of an older set of readings that is left out, because the intervals of
// the two don't touch.
func (g *gathering) apart(name string, used []sessions.Reading, by uncertainty.Quantity, older []sessions.Reading, q uncertainty.Quantity) {
	said := func(set []sessions.Reading, q uncertainty.Quantity) string {
		first, text := set[0], q.Value().Text("")
		if first.Kind != sessions.Count {
			text = g.o.Units.Length(q.Value())
		}
		return fmt.Sprintf("%s by %s (reading %d of %s)", text, first.Instrument, first.ID, first.At.In(zoneOf(g.rec.Clock)).Format(time.DateOnly))
	}
	g.unsure = append(g.unsure, fmt.Sprintf("The %s is %s, and was %s: which? The newer is used. Take the wrong one back, or measure the %s again.",
		name, said(used, by), said(older, q), name))
}

func (g *gathering) is(r sessions.Reading, name string) bool {
	return r.Part == g.part && g.finding.Reads(r, name)
}

// known is an instrument with what the readings themselves stated.
type known struct {
	uncertainty.Instrument
	stated float64
	shape  uncertainty.Shape // of what was stated
}

// instrument gathers what the readings say of the errors they have.
func (g *gathering) instrument(name string, readings []sessions.Reading) known {
	first := readings[0]
	way := wayOf(name, first.Kind)
	out := known{Instrument: uncertainty.Instrument{Key: first.Instrument + ", " + string(way)}}
	for _, r := range readings {
		out.Limit = max(out.Limit, r.Limit)
		out.Step = max(out.Step, r.Step)
		if r.U > out.stated {
			out.stated, out.shape = r.U, uncertainty.Normal
			if r.Rectangular {
				out.shape = uncertainty.Rectangular
			}
		}
	}
	byHand := first.Instrument == sessions.TypedInstrument || first.Instrument == ""
	switch {
	case out.stated > 0: // what was stated covers the instrument and its display
		out.Limit, out.Step = 0, 0
	case way.counted(), way == wayRule:
		// A profile's limit is for its jaws: a strip along a rule, whatever sent its
		// length, and a count have none.
		out.Limit, out.Step = g.assumed(way, first.Value, g.o.TypedLimit), 0
	case byHand:
		// The limit taken when it was typed holds. The digits that a hand leaves out
		// are no display's step: 2.5in is not good to a tenth of an inch alone.
		out.Limit, out.Step = g.assumed(way, first.Value, cmp.Or(out.Limit, g.o.TypedLimit)), 0
	case out.Limit == 0:
		out.Limit = g.assumed(way, first.Value, g.o.TypedLimit)
	}
	switch zeros := g.zeros(first); {
	case byHand && way.byJaws() && len(zeros) > 0:
		// Typed, but read off jaws, and so off their display: the zero shows its step.
		out.Zero = g.zero(first)
		if out.stated == 0 {
			out.Step, out.Repeat = zeros[0].Step, g.repeat(first)
		}
	case !byHand && !way.counted():
		out.Zero = g.zero(first)
		if out.stated == 0 {
			out.Repeat = g.repeat(first)
		}
	}
	return out
}

// repeat returns the scatter of the session and instrument of a reading, from all that
// it measured more than once: between the outside jaws, which are closed for the zero,
// else between any.
func (g *gathering) repeat(of sessions.Reading) uncertainty.Scatter {
	type set struct{ part, dimension string }
	outside, others := map[set][]float64{}, map[set][]float64{}
	var step float64
	for _, r := range g.rec.Readings {
		if r.SessionID != of.SessionID || r.Instrument != of.Instrument || r.State != sessions.Kept || r.U > 0 || !way(r.Kind).byJaws() {
			continue
		}
		to := others
		if r.Kind == sessions.Outside {
			to = outside
		}
		of := set{r.Part, r.Dimension}
		to[of], step = append(to[of], r.Value), max(step, r.Step)
	}
	key := fmt.Sprintf("scatter of session %d, %s", of.SessionID, of.Instrument)
	s := uncertainty.Pool(key, step, slices.Collect(maps.Values(outside)))
	if s.DoF == 0 {
		s = uncertainty.Pool(key, step, slices.Collect(maps.Values(others)))
	}
	return s
}

// zeros returns the closed-jaws readings of the session and instrument of a reading.
func (g *gathering) zeros(of sessions.Reading) (out []sessions.Reading) {
	for _, r := range g.rec.Readings {
		if r.SessionID == of.SessionID && r.Instrument == of.Instrument && r.Dimension == sessions.ZeroDimension && r.State == sessions.Kept {
			out = append(out, r)
		}
	}
	return out
}

// zero returns the zero error of the session and instrument of a reading. Its own
// errors are keyed, since all that it corrects shares them.
func (g *gathering) zero(of sessions.Reading) uncertainty.Quantity {
	var values []float64
	var step float64
	for _, r := range g.zeros(of) {
		values = append(values, r.Value)
		step = max(step, r.Step)
	}
	if len(values) == 0 {
		g.note(fmt.Sprintf("Session %d has no closed-jaws reading of the %s: its zero error is not corrected.", of.SessionID, of.Instrument))
		return uncertainty.Quantity{}
	}
	q, err := uncertainty.FromReadings("zero", values, uncertainty.Instrument{Step: step, Repeat: g.repeat(of).OfInstrument()})
	if err != nil {
		return uncertainty.Quantity{}
	}
	for i := range q.Sources {
		q.Sources[i].Key = fmt.Sprintf("zero of session %d, %s (%d)", of.SessionID, of.Instrument, i)
	}
	return q
}

// otherThing is the share of the greatest reading by which no bore, arbor, coil or strip is
// uneven (our own choice, no source).
const otherThing = 0.2

// spread tells of readings that differ by more than the instrument explains: the
// out-of-roundness of a bore or arbor, the taper of a strip.
func (g *gathering) spread(name string, values []float64, limit float64) {
	span := uncertainty.Span(values)
	if span <= 2*limit || span == 0 {
		return
	}
	why := map[string]string{
		"bore":  "the barrel is out of round, or the jaws were not square",
		"arbor": "the arbor is out of round or worn",
		"inner": "the coil does not lie round",
		"strip": "the strip is uneven or tapered: the mean is used",
	}[name]
	if why == "" {
		return // the figure itself is judged, or says nothing
	}
	if span > otherThing*slices.Max(values) {
		g.unsure = append(g.unsure, fmt.Sprintf("Readings of the %s differ by %s: they can't all be right. Take the wrong ones back, or measure the %s again.", name, g.o.Units.Size(span, 2), name))
		return
	}
	g.note(fmt.Sprintf("Readings of the %s differ by %s: %s.", name, g.o.Units.Size(span, 2), why))
}
