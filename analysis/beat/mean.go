package beat

import (
	"math"
	"slices"

	"evenbeat/analysis/beat/rate"
	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
)

// What a rate is the mean of.
const (
	// OfSession is the run from first beat to last, with all that the wheels did in it.
	OfSession = "session"
	// OfSessionWithoutWaves is the run with the waves of AveragedOut taken out.
	OfSessionWithoutWaves = "session without waves"
	// OfLongRun is the clock's own rate: every wheel has turned often enough for its
	// wave to show or to average out, and the rate doesn't walk.
	OfLongRun = "long run"
)

// Mean tells what the rate is the mean of, and what it would be of the rest.
type Mean struct {
	Of          string    `json:"of"`                       // session, session without waves or long run
	AveragedOut []float64 `json:"averaged_out_s,omitempty"` // periods of the waves taken out
	// FirstToLast is the mean from first beat to last, those waves included; nil for none,
	// and without a train, where their periods are too rough for the ends of the run.
	FirstToLast *quantity.Value `json:"first_to_last_s_per_day,omitempty"`
	// LongRun is the rate of the clock as it runs on, with an allowance for wheels that
	// turned too seldom; nil where the rate is that, and where it walks though all turned.
	LongRun *quantity.Value `json:"long_run_s_per_day,omitempty"`
}

// usualWaveS is the standard deviation of the cosine and the sine of a wheel's wave, in
// seconds, where it isn't heard: 95 % of such waves are less than 1.2 ms. Our own
// judgement, no source.
const usualWaveS = 0.5e-3

func (a *Analyser) mean(stated quantity.Value, f findings) Mean {
	m := Mean{Of: OfSession}
	interval := f.counted * f.truth
	if len(f.line.Waves) > 0 {
		m.Of = OfSessionWithoutWaves
		for _, w := range f.line.Waves {
			m.AveragedOut = append(m.AveragedOut, interval/w)
		}
	}
	if len(f.line.Waves) > 0 && len(a.o.Arbors) > 0 {
		ends := rate.PerDay(f.nominal, interval, f.line.Ends.U, f.truth)
		whole := timebase.Both(stated, quantity.Value{U: ends.U})
		whole.V = stated.V + rate.PerDay(f.nominal, interval+f.line.Ends.V*f.truth, 0, 1).V - ends.V
		m.FirstToLast = &whole
	}
	unheard, all := a.unheard(f)
	switch {
	case !all:
		long := timebase.Both(stated, quantity.Value{U: rate.PerDay(f.nominal, interval, unheard, f.truth).U})
		m.LongRun = &long
	case f.line.Shares[rate.RateWalk] < 0.5:
		m.Of = OfLongRun
	}
	return m
}

// unheard returns the standard uncertainty, in seconds a beat, by which the wheels that
// turned too seldom may make the session's mean differ from the clock's, and reports
// whether all turned often enough.
//
// A wave with the standard deviation s of its cosine and sine rises by 2s·sin πn over n
// turns, and bends about its line by s·√(5j₂² + 7j₃²) of πn, root mean square (j the
// spherical Bessel functions, from the expansion of a plane wave). Where the run bends
// by more than usual waves explain, the quickest of these wheels is held for the cause.
// Without a train one wheel is allowed for, with the greatest rise of any; its bend is
// taken as that of a quarter of a turn.
func (a *Analyser) unheard(f findings) (u float64, all bool) {
	beats := f.spanS / (f.counted * f.truth)
	rise := func(turns, bend, sin float64) float64 {
		t := math.Pi * max(turns, 0.01)
		j2 := (3/(t*t)-1)*math.Sin(t)/t - 3*math.Cos(t)/(t*t)
		j3 := (15/(t*t)-6)*math.Sin(t)/(t*t) - (15/(t*t)-1)*math.Cos(t)/t
		return 2 * sin * max(usualWaveS, bend/math.Sqrt(5*j2*j2+7*j3*j3)) / beats
	}
	if len(a.o.Arbors) == 0 {
		return rise(0.25, f.line.Bend, 1), false
	}
	var slow []float64
	for _, arbor := range a.o.Arbors {
		if arbor.TurnsTooSeldom(beats) {
			slow = append(slow, beats/arbor.BeatsPerTurn)
		}
	}
	slices.Sort(slow)
	slices.Reverse(slow)
	for i, turns := range slow {
		bend := f.line.Bend
		if i > 0 {
			bend = 0
		}
		u = math.Hypot(u, rise(turns, bend, math.Sin(math.Pi*turns)))
	}
	return u, len(slow) == 0
}
