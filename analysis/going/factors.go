package going

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
)

// Names and units of the factors.
const (
	temperature = "temperature"
	pressure    = "pressure"
	winding     = "hours since winding"
	amplitude   = "amplitude"
)

const (
	// leastShare is the least share of the going for which a factor must be known.
	leastShare = 0.8
	// spare is how many more stretches than coefficients there must be to look for a
	// factor.
	spare = 4
	// together and inseparable are correlations of the stretch means. From the first on
	// the correlation is mentioned, from the second on no effect is called real.
	together, inseparable = 0.7, 0.9
	// severalLooked widens the 95 % interval before an effect is called real. With four
	// factors, each must exclude chance at 98.75 % (Bonferroni): for a normal
	// distribution 2.50 standard deviations instead of 1.96.
	severalLooked = 2.50 / quantity.Normal95
)

// candidate is a factor with what is needed to judge it.
type candidate struct {
	factor
	change    float64 // the least change worth looking at, in the factor's unit
	low, high float64 // bounds of the coefficient by physics
	allowed   string
	prior     float64
	per       quantity.Value // what was found, in s/day for each unit
}

// candidates returns the factors that were recorded, temperature first.
func (in In) candidates(tl *timeline) []candidate {
	var temp, press, amp [2][]float64
	for _, a := range in.Air {
		t := a.At.Sub(tl.start).Hours() / 24
		if a.HasTemperature {
			temp[0], temp[1] = append(temp[0], t), append(temp[1], a.TemperatureC)
		}
		if a.HasPressure {
			press[0], press[1] = append(press[0], t), append(press[1], a.PressureHPa)
		}
	}
	for _, a := range in.Amplitudes {
		amp[0], amp[1] = append(amp[0], a.At.Sub(tl.start).Hours()/24), append(amp[1], a.Value)
	}
	var all []candidate
	add := func(f factor, c candidate) {
		if len(f.covariate.pieces) > 0 {
			c.factor = f.observed(tl)
			all = append(all, c)
		}
	}
	add(factor{name: temperature, unit: "K", covariate: sampled(temp[0], temp[1])}, in.temperatureBounds())
	most, least := pendulum.PressureRange()
	add(factor{name: pressure, unit: "hPa", covariate: sampled(press[0], press[1])},
		candidate{change: 2, low: min(least, most), high: max(least, most), allowed: "-0.020 to -0.005 s/day for each hPa", prior: 10})
	until := tl.points[len(tl.points)-1].t
	add(factor{name: winding, unit: "h", covariate: sinceWinding(tl.wound, until)},
		candidate{change: 4, low: -1, high: 1, allowed: "up to 1 s/day for each hour", prior: 10})
	add(factor{name: amplitude, unit: "deg", covariate: sampled(amp[0], amp[1])},
		candidate{change: 0.05, low: -20, high: 5, allowed: "-20 to +5 s/day for each degree", prior: 1e3})
	return all
}

// temperatureBounds: an uncompensated rod gives −43200·α, and compensation reduces that
// or overshoots a little. Where no rod is named, brass (−0.78 s/day/K, Beckett p. 53) is
// the largest. An uncompensated balance loses about 11 s/day/K (from memory).
func (in In) temperatureBounds() candidate {
	c := candidate{change: 0.5, prior: 1e3}
	switch {
	case in.Balance:
		c.low, c.high, c.allowed = -15, 5, "-15 to +5 s/day for each K, by its balance"
	case in.Rod != nil:
		per := in.Rod.PerKelvin()
		c.low, c.high = min(0, per.V-per.Half95())-0.1, max(0, per.V+per.Half95())+0.3
		c.allowed = fmt.Sprintf("%.2f to %+.2f s/day for each K, by its rod (%s)", c.low, c.high, in.Rod.Name)
	default:
		c.low, c.high, c.allowed = -0.9, 0.3, "-0.90 to +0.30 s/day for each K, by any pendulum rod"
	}
	return c
}

// factors regresses the error on the candidates and a linear trend together, and judges
// each. An effect that is neither none nor possible says that the model lacks something.
// What it lacks may sit in the other effects of the same fit just as well, so that none of
// them is called real.
func (in In) factors(r *Result, tl *timeline, stretches int) {
	var use []candidate
	columns := append(tl.base(false), tl.trendColumn())
	for _, c := range in.candidates(tl) {
		if reason := tl.unusable(c, stretches, len(columns)+1); reason != "" {
			r.say(reason)
			continue
		}
		use = append(use, c)
		columns = append(columns, column{step: c.step, prior: c.prior})
	}
	if len(use) == 0 {
		return
	}
	p := tl.weigh(columns)
	if len(p.estimates) == 0 {
		r.say("What the rate depends on could not be worked out from this record.")
		return
	}
	first := len(columns) - len(use)
	for i, c := range use {
		p.allow(first+i, c.low, c.high)
	}
	lacks := false
	for i := range use {
		c := &use[i]
		c.per = p.linear(unit(len(columns), first+i))
		lacks = lacks || c.impossible()
	}
	for _, c := range use {
		real, reasons := tl.judge(c, use, lacks)
		if real && c.name == winding {
			tl.runDown = &runDown{column{step: c.step, prior: c.prior}, c.per}
		}
		r.Factors = append(r.Factors, Factor{Name: c.name, PerUnit: c.per, Unit: c.unit, Significant: real})
		r.say(reasons...)
		if c.impossible() {
			r.warn(fmt.Sprintf("%s, but physics allows %s: something that isn't recorded moved with it, or a record is wrong, so no effect found with it is called real.", c.effect(), c.allowed))
		}
	}
}

// impossible reports whether the effect is neither none nor one that physics allows.
func (c candidate) impossible() bool {
	return !c.per.Covers(0) && (c.per.High95() < c.low || c.per.Low95() > c.high)
}

// effect puts the effect into words.
func (c candidate) effect() string {
	return fmt.Sprintf("%s: %s for each %s", capital(c.name), c.per.Signed("s/day"), c.unit)
}

// unusable returns why a factor can't be looked for at all, "" if it can.
func (tl *timeline) unusable(c candidate, stretches, coefficients int) string {
	switch {
	case c.share == 0:
		return fmt.Sprintf("Nothing is recorded of %s between the checks.", c.name)
	case c.share < leastShare:
		return fmt.Sprintf("The %s is known for only %.0f %% of the time between checks: too little to look for its effect.", c.name, 100*c.share)
	case c.name == winding && tl.windings() < 1:
		return "The clock was not wound between checks, so the run-down of its spring can't be told from any other change with time."
	case c.most-c.least < c.change:
		return fmt.Sprintf("The %s hardly changed from check to check (by %.2g %s): its effect can't be told.", c.name, c.most-c.least, c.unit)
	case stretches < coefficients+spare:
		return fmt.Sprintf("Too few checks to look for the effect of %s.", c.name)
	}
	return ""
}

// windings counts those between the first and the last check.
func (tl *timeline) windings() int {
	n := 0
	for _, w := range tl.wound {
		if tl.observed(tl.points[0].t, w) > 0 && tl.observed(w, tl.points[len(tl.points)-1].t) > 0 {
			n++
		}
	}
	return n
}

// judge says whether an effect is real: its interval excludes zero, the model lacks
// nothing, and nothing else was too closely correlated.
func (tl *timeline) judge(c candidate, all []candidate, lacks bool) (bool, []string) {
	var why []string
	apart, told := true, false
	note := func(other string, r float64) {
		if math.Abs(r) >= inseparable {
			apart = false
			if !told {
				why = append(why, fmt.Sprintf("%s and %s went together too closely (correlation %.2f) to tell one from the other.", capital(c.name), other, r))
			}
		} else if math.Abs(r) >= together && !told {
			why = append(why, fmt.Sprintf("%s and %s went together (correlation %.2f), which makes both uncertain.", capital(c.name), other, r))
		}
	}
	note("the passing of time", tl.correlation(c.factor, nil))
	told = true // a pair is mentioned once, by its first
	for _, o := range all {
		if o.name == c.name {
			told = false
			continue
		}
		note(o.name, tl.correlation(c.factor, &o.factor))
	}
	switch {
	case c.per.Covers(0):
		why = append(why, c.effect()+". It can't be told from no effect.")
	case c.impossible(): // said for all the fit
	case lacks:
		why = append(why, c.effect()+". It is not called real, since the same fit gives another effect that physics doesn't allow.")
	case !apart:
		why = append(why, c.effect()+", which may be another's.")
	case math.Abs(c.per.V) < severalLooked*c.per.Half95():
		why = append(why, c.effect()+". Likely, but with several things looked at, one may show this much by chance.")
	default:
		return true, append(why, c.effect()+". The effect is real.")
	}
	return false, why
}

// correlation returns the correlation of a factor's means over stretches, weighted by
// their length, with those of another factor, or with time where other is nil.
func (tl *timeline) correlation(f factor, other *factor) float64 {
	var w, a, b []float64
	for from, to := range tl.stretches() {
		s, known := f.covariate.over(from.t, to.t)
		if known <= 0 {
			continue
		}
		y := (from.t + to.t) / 2
		if other != nil {
			so, ko := other.covariate.over(from.t, to.t)
			if ko <= 0 {
				continue
			}
			y = so / ko
		}
		w, a, b = append(w, to.t-from.t), append(a, s/known), append(b, y)
	}
	r := stat.Correlation(a, b, w)
	if math.IsNaN(r) {
		return 0 // one of them never changed
	}
	return r
}
