package beat

import (
	"fmt"
	"math"

	"evenbeat/analysis/timebase"
	"evenbeat/analysis/train"
	"evenbeat/devices/quantity"
)

const daySeconds = 86400

func (a *Analyser) result() (Result, error) {
	f, s := &a.follow, a.sums
	tooFew := &TooFewError{Events: a.events, Beats: f.beats}
	if f.beats < leastEvents*3/4 || len(s.blocks.segments) == 0 {
		return Result{}, tooFew
	}
	step := f.sec
	rough, _ := s.blocks.evenness(0)
	l, ok := s.blocks.fit(rough.V, step, a.o.Arbors)
	if !ok {
		return Result{}, tooFew
	}
	half, ok := s.blocks.evenness(l.noise.white)
	if !ok {
		// Never three beats in a row: the evenness can't be told.
		half = quantity.Value{U: f.interval * f.sec}
	}

	whole := half
	whole.V += s.apart
	if f.spread < 0.5 {
		// Beats that scatter by less than a count don't average its resolution out: the
		// means of both sides keep it, step/√12 each (JCGM 100:2008, F.2.2.1).
		whole.U = math.Hypot(whole.U, step/math.Sqrt(12)/math.Sqrt2)
	}
	counted := s.ref + l.slope.V // interval by the count, seconds
	r := Result{
		Beats: f.beats, Missed: f.missed, Segments: f.segments,
		Spurious: f.spurious + f.loose, Warnings: []string{},
	}
	base := a.base(float64(f.last-f.first) * f.sec)
	r.TimeBase = TimeBase{OffsetPPM: base.OffsetPPM, Source: base.Source, HostSynchronised: base.Host.Synced,
		ByPulse: base.Source == timebase.SourceReference && base.ByPulse}
	truth := 1 / (1 + base.OffsetPPM.V*1e-6) // true seconds in one of the count
	r.IntervalS = counted * truth
	r.BeatsPerHour = 3600 / r.IntervalS
	r.DurationS = float64(f.span) * f.sec * truth
	r.TickTock = whole.Scale(-4 * truth)
	r.BeatError = quantity.Value{V: math.Abs(r.TickTock.V) / 2, U: r.TickTock.U / 2, K: r.TickTock.K}
	nominal := a.nominal(r.IntervalS, &r)
	r.NominalBeatsH = 3600 / nominal
	rate := quantity.Value{
		V: daySeconds * (nominal/r.IntervalS - 1),
		U: daySeconds * nominal / (r.IntervalS * r.IntervalS) * l.slope.U * truth,
		K: l.slope.K,
	}
	clock := rate
	if base.Source != timebase.SourceDevice || a.o.Stamped {
		rate = timebase.Both(rate, base.OffsetPPM.Scale(daySeconds*1e-6))
		rate.V = clock.V
	}
	r.Rate = Rate{Value: rate.V, U: rate.U, Low95: rate.Low95(), High95: rate.High95()}
	r.Wheels = a.wheels(l, half.V, nominal)
	r.Stability = s.stability(half.V, counted, truth)
	r.Trace = s.trace.points(l, s, half.V, truth)
	places := s.fold.places(l.slope.V, f.strays)
	r.Tooth = a.tooth(places, s.fold.longest().turns)
	r.Fold, r.BeatsPerTooth = points(places, r.Tooth), a.o.beatsPerTooth()
	r.Periods = s.periods(half.V, nominal, truth)
	a.swing(&r, counted, r.TickTock.V/truth)
	var wanders bool
	r.ShortTerm, wanders = s.shortTerm(nominal, truth)
	a.tell(&r, told{line: l, base: base, clock: clock, span: r.DurationS, wanders: wanders})
	return r, nil
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
		for _, by := range []float64{1, 2, 0.5} {
			if math.Abs(interval/(n*by)-1) < nearRate {
				switch by {
				case 2:
					r.Warnings = append(r.Warnings, "only every second beat is heard: the evenness of tick and tock can't be told; turn the sensor up or move it")
				case 0.5:
					r.Warnings = append(r.Warnings, "two events are heard for each beat of the train: is the number of beats to a tooth right, or does the sensor hear an echo?")
				}
				return n * by
			}
		}
		r.Warnings = append(r.Warnings, fmt.Sprintf("%.0f beats an hour are heard, %.0f are expected: is the train or the number of beats an hour right?", 3600/interval, 3600/n))
		return n
	}
	near := train.Near(interval)
	if len(near) == 0 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("%.1f beats an hour are near no usual number: the rate is against the next whole number; give the train or the beats an hour", 3600/interval))
		return 3600 / math.Max(1, math.Round(3600/interval))
	}
	text := fmt.Sprintf("the beats an hour were not given: %.0f are assumed (%s)", near[0].BeatsPerHour, near[0].Name)
	for _, n := range near[1:] {
		text += fmt.Sprintf("; %.0f would make it %+.0f s/day", n.BeatsPerHour, n.SecPerDay)
	}
	r.Warnings = append(r.Warnings, text)
	return 3600 / near[0].BeatsPerHour
}

// stability is the table of the Allan deviation, with the difference of tick and
// tock taken out of its first row: half apart makes second differences of ±4·half
// from one beat to the next, and none over an even number of beats.
func (s *sums) stability(half, counted, truth float64) []Stability {
	if s.stable == nil {
		return nil
	}
	var out []Stability
	for i, row := range s.stable.Rows() {
		if row.OADev == nil {
			continue
		}
		dev, scale := *row.OADev, s.ref/counted
		if i == 0 {
			v := dev*dev - 8*half*half/(row.TauS*row.TauS)
			if !(v > 0) {
				continue
			}
			scale *= math.Sqrt(v) / dev
		}
		t := Stability{TauS: row.TauS * counted / s.ref * truth, ADev: dev * scale, N: row.N}
		if row.Low != nil && row.High != nil {
			t.Low, t.High = *row.Low*scale, *row.High*scale
		}
		out = append(out, t)
	}
	return out
}
