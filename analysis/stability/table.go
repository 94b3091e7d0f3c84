package stability

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"evenbeat/devices/quantity"
)

// mostWork is the largest product of points and averaging times: some two minutes on two
// busy cores. All averaging times of 50000 points are just below it.
const mostWork = 1_500_000_000

// Table returns the Allan family of data that are interval seconds apart, at the
// averaging times chosen. Phase is in seconds, frequency without unit; the
// deviations are of fractional frequency, TDev in seconds. NaN is a gap.
//
// A figure with fewer than two terms is left out. So is the 68 % interval where no
// averaging time has the 30 points that identify the noise. Times too long for that take
// the noise of a shorter one, and the warnings say so. The equivalent degrees of freedom
// are those of NIST SP 1065, table 5: see EDF.
//
// The error is a *quantity.InputError: interval not positive, a value infinite, fewer
// than four points of phase (three of frequency), no averaging time short enough for
// them, or more points times averaging times than anyone would wait for.
func Table(data []float64, kind Kind, interval float64, taus Taus) (Result, error) {
	s, err := newSeries(data, kind, interval)
	if err != nil {
		return Result{}, err
	}
	points := int64(len(s.x))
	if points < 2+minTerms {
		return Result{}, quantity.BadInput("points", len(data),
			"at least 4 points of phase or 3 of frequency are needed for the shortest averaging time")
	}
	use, tooLong := taus.factors(points)
	if len(use) == 0 {
		return Result{}, taus.allTooLong(points)
	}
	if n := int64(len(use)); n > 1 && n > mostWork/points {
		return Result{}, quantity.BadInput("taus", taus.String(),
			fmt.Sprintf("%d averaging times over %d points would take hours: %d are the most for so many points; write octave, decade, or a list", n, points, max(1, mostWork/points)))
	}
	rows := make([]Row, len(use))
	s.fill(rows, use, interval)

	var r Result
	kept, carried := s.judge(rows, use)
	r.Rows = kept
	r.Warnings = warnings(kept, tooLong, points, s.gaps, carried)
	return r, nil
}

// fill computes the rows on all cores. They don't depend on one another.
func (s *series) fill(rows []Row, factors []int64, interval float64) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(rows)) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(rows)); i = next.Add(1) - 1 {
				rows[i] = s.row(int(factors[i]), interval)
			}
		})
	}
	wg.Wait()
}

func (s *series) row(m int, interval float64) Row {
	r := Row{TauS: float64(m) * interval}
	r.ADev = figure(s.allan(m, m))
	dev, n := s.allan(m, 1)
	r.OADev, r.N = figure(dev, n), n
	r.MDev = figure(s.modified(m))
	if r.MDev != nil {
		// TDev = τ/√3 · MDev (NIST SP 1065, time deviation).
		t := *r.MDev * r.TauS / math.Sqrt(3)
		r.TDev = figure(t, n)
	}
	r.HDev = figure(s.hadamard(m, m))
	r.OHDev = figure(s.hadamard(m, 1))
	r.TotDev = figure(s.total(m))
	r.Noise, _ = s.noise(m)
	return r
}

// figure returns a finite figure of enough terms, else nil.
func figure(dev float64, terms int64) *float64 {
	if terms < minTerms || math.IsNaN(dev) || math.IsInf(dev, 0) {
		return nil
	}
	return &dev
}

// judge adds the intervals and drops empty rows. Where an averaging time doesn't identify
// its noise, the longest shorter one that does so stands in. carried is the first such
// time, 0 if there is none.
func (s *series) judge(rows []Row, factors []int64) (kept []Row, carried float64) {
	kept = []Row{} // and not null where a table is empty
	var noise Noise
	for i, r := range rows {
		if r.Noise == "" {
			if noise == "" {
				noise = s.shorterNoise(int(factors[i]))
			}
			if r.Noise = noise; noise != "" && carried == 0 {
				carried = r.TauS
			}
		}
		r.setInterval(int64(len(s.x))-s.gaps, factors[i])
		if r.OADev != nil || r.TotDev != nil {
			kept = append(kept, r)
		}
	}
	return kept, carried
}

// shorterNoise returns the noise at the longest averaging time below m that has enough
// points to identify it.
func (s *series) shorterNoise(m int) Noise {
	for m = min(m, (len(s.x)-1)/minNoisePoints); m >= 1; m /= 2 {
		if n, ok := s.noise(m); ok {
			return n
		}
	}
	return ""
}

// warnings are what a table says besides its rows. longest is the number of points in the
// longest stretch, which bounds the averaging times.
func warnings(rows []Row, tooLong []int64, longest, gaps int64, carried float64) []string {
	var w []string
	for _, m := range tooLong {
		w = append(w, fmt.Sprintf("averaging factor %d is too long for %d points: %d is the longest, half the record", m, longest, longestFactor(longest)))
	}
	if gaps > 0 {
		w = append(w, fmt.Sprintf("%d gaps: the terms that touch them are left out", gaps))
	}
	switch {
	case len(rows) == 0:
		w = append(w, "no figure: too few points, or too many gaps between them")
	case carried > 0:
		w = append(w, fmt.Sprintf("from tau %.6g s on the kind of noise is taken from shorter times, because fewer than %d points show it", carried, minNoisePoints))
	case rows[0].Noise == "":
		w = append(w, fmt.Sprintf("fewer than %d points, or no noise in them, don't show its kind: no interval is given", minNoisePoints))
	}
	return w
}
