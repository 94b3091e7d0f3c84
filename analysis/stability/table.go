package stability

import (
	"fmt"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
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
// A figure of a single term is given, without an interval, and Row.Single names it. The
// 68 % interval is left out too where no averaging time has the 30 points that identify
// the noise. Times too long for that take the noise of a shorter one, and the warnings
// say so. The equivalent degrees of freedom are those of NIST SP 1065: see EDF.
//
// The error is a *quantity.InputError: interval not positive, a value infinite, fewer
// than three points of phase (two of frequency), no averaging time short enough for
// them, or more points times averaging times than anyone would wait for.
func Table(data []float64, kind Kind, interval float64, taus Taus) (Result, error) {
	s, err := newSeries(data, kind, interval)
	if err != nil {
		return Result{}, err
	}
	points := int64(len(s.x))
	if points < 2+minTerms {
		return Result{}, quantity.BadInput("points", len(data),
			"at least 3 points of phase or 2 of frequency are needed for the shortest averaging time")
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
	r.Warnings = warnings(kept, tooLong, points, s.gaps+s.ends, carried)
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
	adev, adevs := s.allan(m, m)
	r.ADev = r.figure("adev", adev, adevs)
	oadev, oadevs := s.allan(m, 1)
	r.OADev, r.N = r.figure("oadev", oadev, oadevs), oadevs
	mdev, mdevs := s.modified(m)
	r.setModified(mdev, mdevs)
	hdev, hdevs := s.hadamard(m, m)
	r.HDev = r.figure("hdev", hdev, hdevs)
	ohdev, ohdevs := s.hadamard(m, 1)
	r.OHDev = r.figure("ohdev", ohdev, ohdevs)
	totdev, totdevs := s.total(m)
	r.TotDev = r.figure("totdev", totdev, totdevs)
	r.Noise, _ = s.noise(m, mdev, oadev, mdevs)
	return r
}

// noise names the noise at averaging factor m, where MDEV has so many terms: see named.
func (s *series) noise(m int, mdev, oadev float64, terms int64) (Noise, bool) {
	var short Noise
	if s.gaps > 0 && m >= ratioFrom { // else MDEV has terms enough
		short, _ = s.lags(2).noise()
	}
	return named(s.lags(m), int64(m), short, mdev*mdev, oadev*oadev, float64(terms)/float64(m))
}

// figure returns a finite figure of enough terms, else nil, and marks one of a single term.
func (r *Row) figure(name string, dev float64, terms int64) *float64 {
	if terms < minTerms || math.IsNaN(dev) || math.IsInf(dev, 0) {
		return nil
	}
	if terms == 1 {
		r.Single = append(r.Single, name)
	}
	return &dev
}

// setModified fills in MDev and TDev = τ/√3 · MDev (NIST SP 1065, time deviation).
func (r *Row) setModified(mdev float64, terms int64) {
	r.MDev = r.figure("mdev", mdev, terms)
	r.TDev = r.figure("tdev", mdev*r.TauS/math.Sqrt(3), terms)
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
		r.setInterval(int64(len(s.x))-s.gaps, factors[i], 1)
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
		oadev, _ := s.allan(m, 1)
		mdev, terms := s.modified(m)
		if n, ok := s.noise(m, mdev, oadev, terms); ok {
			return n
		}
	}
	return ""
}

// tauText writes an averaging time in seconds, rounded to four digits: that of a clock's
// own beats is hardly ever whole.
func tauText(s float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(s, 'g', 4, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// warnings are what a table says besides its rows. longest is the number of points in the
// longest stretch, which bounds the averaging times.
func warnings(rows []Row, tooLong []int64, longest, gaps int64, carried float64) []string {
	var w []string
	for _, m := range tooLong {
		w = append(w, fmt.Sprintf("averaging factor %d is too long for %d points: %d is the longest, half the record", m, longest, longestFactor(longest)))
	}
	switch {
	case gaps == 1:
		w = append(w, "1 gap: the terms that touch it are left out")
	case gaps > 1:
		w = append(w, fmt.Sprintf("%d gaps: the terms that touch them are left out", gaps))
	}
	if single := singles(rows); single != "" {
		w = append(w, "only a single term goes into "+single+": such a figure may be far off, and has no interval")
	}
	switch {
	case len(rows) == 0:
		w = append(w, "no figure: too few points, or too many gaps between them")
	case carried > 0:
		w = append(w, fmt.Sprintf("from tau %s s on the kind of noise is taken from shorter times, because fewer than %d points show it", tauText(carried), minNoisePoints))
	case rows[0].Noise == "":
		w = append(w, fmt.Sprintf("fewer than %d points, or no noise in them, don't show its kind: no interval is given", minNoisePoints))
	}
	return w
}

// singles says from which averaging time on a figure has a single term: "ADEV from tau
// 256 s on, HDEV from tau 170 s on".
func singles(rows []Row) string {
	var parts, seen []string
	for _, r := range rows {
		for _, name := range r.Single {
			if !slices.Contains(seen, name) {
				seen = append(seen, name)
				parts = append(parts, fmt.Sprintf("%s from tau %s s on", strings.ToUpper(name), tauText(r.TauS)))
			}
		}
	}
	return strings.Join(parts, ", ")
}
