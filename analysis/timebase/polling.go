package timebase

import (
	"math"

	"evenbeat/analysis/beat/robust"
)

// polling is what the stamps tell of a port that hands bytes over at even steps only.
// Delays then glide together, by up to a step, and their scatter doesn't show it.
type polling struct {
	step float64 // seconds; 0 where the stamps leave no room for steps
	sure bool    // the stamps lie on the steps; else they only may
	gap  float64 // the usual one from event to event, seconds
	near float64 // an event no farther from a step than this counts as on it, seconds
	// slack is how much later than its step an event on it may come, seconds.
	slack float64
}

const (
	// Adaptors hand bytes over every latencyS at the slowest, systems poll them every
	// tickS, and the computer's bus is polled every frameS (common practice, no source, and
	// frames of USB at full speed, from memory).
	latencyS = 16e-3
	tickS    = 10e-3
	frameS   = 1e-3
	// Steps from leastStepS to mostStepS are looked for.
	leastStepS, mostStepS = 0.5e-3, 32e-3
	// A gap that is farther from the usual one tells nothing of steps: a beat was missed,
	// or tick and tock differ.
	farGapS = 64e-3
)

// gap is from one event to the next.
type gap struct {
	host float64 // by the host's time, less the usual one
	late float64 // growth of the delay, less the usual one
}

// gaps returns the gaps near the usual one.
func gaps(ws []window, slope float64) (near []gap, usual float64) {
	hosts, lates := make([]float64, len(ws)-1), make([]float64, len(ws)-1)
	near = make([]gap, 0, len(ws))
	for i, b := range ws[1:] {
		g := gap{(b.t-ws[i].t)*(1+slope) + b.d - ws[i].d, b.d - ws[i].d}
		near, hosts[i], lates[i] = append(near, g), g.host, g.late
	}
	usual = robust.Median(hosts)
	late := robust.Median(lates)
	n := 0
	for _, g := range near {
		if g.host -= usual; math.Abs(g.host) <= farGapS {
			near[n] = gap{g.host, g.late - late}
			n++
		}
	}
	return near[:n], usual
}

// findPolling looks for steps in a segment's first events, whose slope was taken out.
// Their stamps lie on steps where they scatter less about them than the delays do, or
// where the delays jump by a step.
func findPolling(ws []window, slope float64) polling {
	near, usual := gaps(ws, slope)
	spread, delays := 0.0, 0.0
	for _, g := range near {
		spread, delays = max(spread, math.Abs(g.host)), max(delays, math.Abs(g.late))
	}
	if delays < 1e-7 { // as with imported times, where the count is the stamp
		return polling{}
	}
	for s := min(mostStepS, spread*8/7); s >= leastStepS; s -= s * s / (20 * spread) {
		if p, ok := onSteps(near, s); ok {
			p.gap = usual
			return p
		}
	}
	host, late := deviations(near, math.Inf(1))
	steps := []float64{latencyS, frameS}
	switch {
	case host > 1.5*late: // the stamps follow the beats
		return polling{}
	case host < late/2: // they follow something else
		steps = []float64{latencyS, tickS, frameS}
	}
	for _, s := range steps {
		if keepPlace(ws, slope, s) {
			return polling{step: s}
		}
	}
	return polling{}
}

// onSteps tells whether the gaps are whole numbers of steps s or so, and if they are,
// gives the step that fits best.
func onSteps(near []gap, s float64) (p polling, ok bool) {
	n := float64(len(near))
	var off, jumps, jumpsOn, tooFar, kk, kh float64
	for _, g := range near {
		k := math.Round(g.host / s)
		is := math.Abs(g.host-k*s) <= s/8
		if !is {
			if off++; off > 0.4*n {
				return p, false
			}
		} else {
			kk += k * k
			kh += k * g.host
		}
		switch late := math.Abs(g.late); {
		case late > s*9/8:
			tooFar++
		case late > s/2:
			jumps++
			if is {
				jumpsOn++
			}
		}
	}
	if n*information(1-off/n) < leastNats || jumps == 0 || (off > 0.2*n && jumps < 2*surely) || jumpsOn < 0.6*jumps || tooFar > 0.4*jumps || kk == 0 {
		return p, false
	}
	s = kh / kk
	host, late := deviations(near, s)
	return polling{step: s, sure: host < late/2 || jumps >= surely, near: max(1e-6, min(6*host, s/8)), slack: max(1e-6, 6*host)}, host < 1.5*late
}

// surely so many delays that jump by a step are no single change of the delay.
const surely = 3

// leastNats is the information against chance that makes steps out of gaps: some
// hundreds of steps are tried, and one in a million is taken for more than chance.
const leastNats = 14

// information returns how much, in nats, each gap tells against chance when a share of
// them lies within an eighth of a step of one, where a quarter does by chance (the
// binomial's relative entropy).
func information(share float64) float64 {
	i := share * math.Log(share/0.25)
	if share < 1 {
		i += (1 - share) * math.Log((1-share)/0.75)
	}
	return i
}

// deviations returns how the stamps scatter about steps s, and how the delays do.
func deviations(near []gap, s float64) (host, late float64) {
	hosts, lates := make([]float64, len(near)), make([]float64, len(near))
	for i, g := range near {
		hosts[i], lates[i] = math.Abs(math.Remainder(g.host, s)), math.Abs(g.late)
	}
	return robust.Deviation(hosts), robust.Deviation(lates)
}

// keepPlace tells whether all stamps have nearly the same place between steps s.
func keepPlace(ws []window, slope, s float64) bool {
	var x, y float64
	for _, w := range ws {
		sin, cos := math.Sincos(2 * math.Pi * (w.t*(1+slope) + w.d) / s)
		x, y = x+cos, y+sin
	}
	return math.Hypot(x, y) > 0.9*float64(len(ws))
}

// on tells whether an event came on a step, by its gap from the one before.
func (p *polling) on(gapNs int64) bool {
	return p.sure && math.Abs(math.Remainder(float64(gapNs)*1e-9-p.gap, p.step)) <= p.near
}

// feasible returns the sums of the middle one of all lines that leave each event on a
// step from none to a step late, and each other from none on. Between two events that
// bounds the slope from both sides. ok is false where there is no such line, or the
// stamps are not sure to lie on steps.
//
// How the delay glides follows from the clock's rate, which is not random. So half the
// range is a limit that holds for any rate: where the delay glides by so much that the
// slope lies at the very end of the range, it begins anew in all but a few runs.
func (p *polling) feasible(ws []window) (s sums, ok bool) {
	if !p.sure {
		return s, false
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	most := p.step + p.slack
	for i, a := range ws {
		for _, b := range ws[i+1:] {
			if dt := b.t - a.t; dt > 0 {
				hi = min(hi, (b.d-a.u+most)/dt)
				lo = max(lo, (b.u-a.d-most)/dt)
			}
		}
	}
	span := ws[len(ws)-1].t - ws[0].t
	s.tt = span * span * float64(len(ws)) / 12
	s.td, s.bound = s.tt*(lo+hi)/2, s.tt*(hi-lo)/2
	return s, lo < hi && !math.IsInf(hi-lo, 0)
}

// between returns the sums of windows whose line passes no more than a step before the
// latest event of each, and not after the earliest.
func (p *polling) between(ws []window) (s sums) {
	wide := make([]float64, len(ws))
	for i := range ws {
		w := &ws[i]
		if math.IsInf(w.u, -1) {
			w.tu, w.u = w.t, w.d
		}
		least := w.u - p.step - p.slack
		wide[i] = max(0, w.d-least)
		w.t, w.d = (w.t+w.tu)/2, (w.d+least)/2
	}
	s = lineSums(ws)
	s.noise, s.terms = 0, 0
	for i, w := range ws {
		s.bound += math.Abs(w.t-s.mt) * wide[i] / 2
	}
	return s
}

// through returns the sums of the line through windows, which are cut where their level
// changes by more than family deviations.
func (p *polling) through(ws []window, family float64) (s sums) {
	cut, greatest := parts(ws, family)
	creep := p.step // over the longest part
	if creep > 0 {
		creep = max(creep, greatest)
	}
	if greatest > 0 && len(cut[0]) == len(ws) { // it changes too often to be cut
		creep = 1.5 * max(creep, greatest)
	}
	for _, part := range cut {
		if len(part) > lineWindows {
			part = halve(part)
		}
		part = joinSparse(part)
		b := lineSums(part)
		if b.tt > 0 {
			b.bound = b.tt * creep / (part[len(part)-1].t - part[0].t)
		}
		s.add(b, 0)
	}
	return s
}
