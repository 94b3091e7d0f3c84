package beat

import (
	"fmt"
	"math"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/beat/rate"
	"evenbeat/analysis/timebase"
	"evenbeat/analysis/train"
	"evenbeat/devices/quantity"
)

// findings are what the result and its sentences are made from.
type findings struct {
	tally   numbering.Tally
	line    rate.Line
	half    quantity.Value // half the tick–tock offset that is left in the time errors, seconds by the count
	oneSide bool           // only ticks are heard, or only tocks
	offset  quantity.Value // half the whole tick–tock offset; 0 where it can't be found
	counted float64        // interval by the count, seconds
	base    timebase.Base
	sensor  timebase.SensorSteps
	truth   float64        // true seconds in one of the count
	nominal float64        // interval at which the clock would keep time, seconds
	clock   quantity.Value // the rate by the beats alone, without the time base's part
	spanS   float64        // seconds heard
	// wanders tells that the rate over short windows wanders by more than its noise.
	wanders bool
}

func (a *Analyser) result() (Result, error) {
	f, ok := a.find()
	if !ok {
		return Result{}, &TooFewError{Events: f.tally.Events}
	}
	t, s := f.tally, a.sums
	r := Result{
		Beats: t.Beats, Late: t.Late, Early: t.Early, Missed: t.Missed, Spurious: t.Spurious, Segments: t.Segments, Warnings: []string{},
		TimeBase: timeBase(f.base, t.SpanS),
	}
	r.IntervalS = f.counted * f.truth
	r.BeatsPerHour = 3600 / r.IntervalS
	r.DurationS = t.HeardS * f.truth
	f.nominal, f.spanS = a.nominal(r.IntervalS, &r), r.DurationS
	f.oneSide = f.oneSide || f.nominal == 2*a.o.NominalInterval
	r.evenness(f)
	r.NominalBeatsH = 3600 / f.nominal
	f.clock = rate.PerDay(f.nominal, r.IntervalS, f.line.Slope.U, f.truth)
	f.clock.K = f.line.Slope.K
	r.Rate = Rate{f.clock}
	if f.base.Source != timebase.SourceDevice || a.o.Stamped {
		r.Rate.Value = timebase.Both(f.clock, f.base.OffsetPPM.Scale(ppmDay))
		r.Rate.V = f.clock.V
	}
	r.Mean = a.mean(r.Rate.Value, f)
	slope := f.line.Slope.V
	r.Wheels = periodic.FindWheels(a.o.Arbors, s.harmonics, &s.blocks, slope, f.half.V, f.nominal)
	r.Stability = s.allan.table(f.half.V, s.even.IntervalS, f.counted, f.truth)
	r.Trace = s.trace.points(f, s)
	if s.fold != nil {
		places := s.fold.Places(slope, a.numbers.Outliers())
		r.Tooth = periodic.FindTooth(places, s.fold.Turns(), a.o.beatsPerTooth())
		r.Fold = foldPoints(places, r.Tooth)
	}
	r.BeatsPerTooth = a.o.beatsPerTooth()
	if r.Tooth == nil || !r.Tooth.Significant {
		r.TrainTooth = a.trainTooth(r.Wheels, f.nominal)
	}
	if s.spectrum != nil {
		r.Periods = s.spectrum.Periods(f.half.V, f.nominal, f.truth)
	}
	a.amplitude(&r, f.counted, r.TickTock.V/f.truth)
	r.ShortTerm, f.wanders = s.windows.Rates(s.turns.Beats(), s.even.IntervalS, f.nominal, f.truth)
	a.write(&r, f)
	return r, nil
}

// trainTooth finds the tooth of another wheel. The waves of quicker wheels may stand alike
// whenever it meshes: they don't average out, and each may add or take its amplitude.
func (a *Analyser) trainTooth(wheels []Wheel, nominal float64) *TrainTooth {
	t := periodic.FindTrainTooth(a.o.Arbors, a.numbers.Outliers(), nominal)
	for _, w := range wheels {
		if t != nil && w.Significant && w.PeriodS < t.PeriodS {
			t.Late = timebase.Both(t.Late, quantity.Value{U: w.Amplitude.V / math.Sqrt2, K: math.Sqrt2})
		}
	}
	return t
}

// find fits the line and the tick–tock offset, and holds the count against true time.
// It reports false for too few beats.
func (a *Analyser) find() (f findings, ok bool) {
	f.tally = a.numbers.Tally()
	blocks := &a.sums.blocks
	if f.tally.Beats < numbering.LeastEvents*3/4 || blocks.Segments() == 0 {
		return f, false
	}
	rough, _ := rate.HalfOffset(blocks, 0)
	step := a.o.tickS()
	if f.line, ok = rate.FitLine(blocks, rough.V, step, a.o.Arbors); !ok {
		return f, false
	}
	f.oneSide = blocks.OneSided()
	if half, ok := rate.HalfOffset(blocks, f.line.White); ok {
		f.half, f.offset = half, half
		f.offset.V += a.sums.even.OffsetS
		if f.tally.ScatterTicks < 0.5 {
			// Beats that scatter by less than a count don't average its resolution out: the
			// means of both sides keep it, step/√12 each (JCGM 100:2008, F.2.2.1).
			f.offset.U = math.Hypot(f.offset.U, step/math.Sqrt(12)/math.Sqrt2)
		}
	}
	f.counted = a.sums.even.IntervalS + f.line.Slope.V
	f.base = a.base(f.tally.SpanS)
	if a.told != nil {
		f.sensor = a.told.Found()
	}
	f.truth = 1 / (1 + f.base.OffsetPPM.V*1e-6)
	return f, true
}

// base returns the time base over a run of so many seconds by the count.
func (a *Analyser) base(duration float64) timebase.Base {
	switch {
	case a.o.CountRate == 0:
		host := timebase.Base{Source: timebase.SourceHost, Host: a.o.Host, OffsetPPM: a.o.Host.RatePPM(duration)}
		return a.ref.Improve(host, nil, duration)
	case !a.o.Stamped:
		return timebase.Base{Source: timebase.SourceDevice}
	}
	return a.ref.Improve(a.fit.Base(a.o.Host, duration), &a.fit, duration)
}

// nominal returns the interval at which the clock would keep time, for the beats
// as they are heard: where only every second one is, twice the train's.
func (a *Analyser) nominal(interval float64, r *Result) float64 {
	if n := a.o.NominalInterval; n > 0 {
		near := func(by float64) bool { return math.Abs(interval/(n*by)-1) < numbering.NearRate }
		switch {
		case near(1):
			return n
		case near(2):
			return n * 2
		case near(0.5):
			r.warn("two events are heard for each beat of the train: is the number of beats to a tooth right, or does the sensor hear an echo?")
			return n * 0.5
		}
		r.warn("%.0f beats an hour are heard, %.0f are expected: is the train or the number of beats an hour right?", 3600/interval, 3600/n)
		return n
	}
	near := train.Near(interval)
	if len(near) == 0 {
		r.warn("%.1f beats an hour is no usual number: the rate is worked out from the nearest whole number; give the train or the beats an hour", 3600/interval)
		return 3600 / math.Max(1, math.Round(3600/interval))
	}
	text := fmt.Sprintf("the beats per hour were not given: %.0f are assumed (%s)", near[0].BeatsPerHour, near[0].Name)
	for _, n := range near[1:] {
		text += fmt.Sprintf("; %.0f would make it %+.0f s/day", n.BeatsPerHour, n.SecPerDay)
	}
	r.warn("%s", text)
	return 3600 / near[0].BeatsPerHour
}

// foldPoints returns the places for the figure, with the wave by which t was judged.
func foldPoints(ps []periodic.Place, t *Tooth) []FoldPoint {
	var out []FoldPoint
	for i, p := range ps {
		if !p.Known() {
			continue
		}
		q := FoldPoint{Place: i, ResidualS: quantity.Value{V: p.V, U: p.U}}
		if t != nil && t.Residuals != nil {
			q.WaveS = p.V - t.Residuals[i]
		}
		out = append(out, q)
	}
	return out
}
